# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_with "$(uf2 30000 10000 E48BFF56)"
