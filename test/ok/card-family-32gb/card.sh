# board: burr
# card: 32GB
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
