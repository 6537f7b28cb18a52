# board: burr
# change: dataAlignment: any => dataAlignment: 4KiB
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# mkfs.fat aligns to whole clusters by itself.
burr_card
