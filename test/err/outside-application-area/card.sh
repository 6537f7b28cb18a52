# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The last block begins where the application area ends.
burr_card_without_file
put "$(uf2 30208 1F8B00)" BURR/MILL.UF2
