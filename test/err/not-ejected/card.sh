# board: burr
# change: refusesDirty: false => refusesDirty: true
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Bit 15 of FAT[1] is cleared in both FATs, as a driver does while it works.
burr_card
entry 1 ff 7f
