# board: burr
# change: otherFiles: allowed => otherFiles: forbidden
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
folder "System Volume Information"
put "$(bytes 76)" "System Volume Information/IndexerVolumeGuid"
