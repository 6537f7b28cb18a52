# board: burr
# change: fileSystems: [FAT16, FAT32] => fileSystems: [FAT32]
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
