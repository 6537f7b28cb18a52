# board: burr
# change: title: start file => title: start file\n    afterSuccess: delete
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
