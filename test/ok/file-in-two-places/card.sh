# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(uf2 40000)" MILL.UF2
