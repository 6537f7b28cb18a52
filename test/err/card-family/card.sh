# board: burr
# card: 64GB
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
