# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
folder "System Volume Information"
put "$(bytes 76)" "System Volume Information/IndexerVolumeGuid"
folder .Spotlight-V100
folder .fseventsd
put "$(bytes 4096)" .DS_Store
