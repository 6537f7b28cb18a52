# board: burr
# set: panel=none
# change: start: 0x003F0000, bytes: 64KiB => start: 0x00200000, bytes: 64KiB
. "$(dirname "$0")/../../support/card-tools.sh"
# The settings begin where the application area ends.
burr_card_with "$(uf2 30208 1F8B00)"
