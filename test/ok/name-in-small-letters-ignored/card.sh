# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
put "$(uf2 30000)" BURR/Mill.uf2
