# board: burr
# set: panel=none
# change: encoding: uf2 => encoding: esp-image
# change-1: lengthMultiple: 512 => lengthMultiple: any
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_with "$(esp 30000 9)"
