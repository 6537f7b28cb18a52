# board: burr
# unreadable: 1159168 512
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
