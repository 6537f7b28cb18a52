# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
# The first letter is Cyrillic.
put "$(uf2 30000)" "BURR/МILL.UF2"
