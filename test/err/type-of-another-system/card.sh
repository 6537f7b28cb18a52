# board: burr
# change: partitionTypes: [0x04, 0x06, 0x0B, 0x0C, 0x0E] => partitionTypes: any
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
sfdisk -q --no-tell-kernel --part-type "$image" 1 83 >/dev/null
