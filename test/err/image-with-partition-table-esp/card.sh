# board: burr
# set: panel=none
# change: encoding: uf2 => encoding: esp-image
# change-1: lengthMultiple: 512 => lengthMultiple: any
. "$(dirname "$0")/../../support/card-tools.sh"
# A merged image: boot loader first, a partition table at 0x8000.
file=$(esp 30000 9)
{ cat "$file"; head -c $((0x8000 - $(stat -c %s "$file"))) /dev/zero; printf '\252\120\001\002'; head -c 4092 /dev/zero; } >"$work/merged"
burr_card_with "$work/merged"
