# board: burr
# change: path: BURR/MILL.UF2 => path: BURR/._MILL.UF2
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
put "$(uf2 30000)" BURR/._MILL.UF2
