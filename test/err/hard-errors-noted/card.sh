# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Bit 14 of FAT[1] is cleared in both FATs: a driver met an error.
burr_card
entry 1 ff bf
