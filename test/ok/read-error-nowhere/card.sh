# board: burr
# unreadable: 20000000 512
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# A stretch near the end of the card, which holds nothing, cannot be read.
burr_card
