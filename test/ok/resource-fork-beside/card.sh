# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(bytes 4096)" BURR/._MILL.UF2
