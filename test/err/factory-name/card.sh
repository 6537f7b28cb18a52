# board: burr
# change: naming: fixed => naming: new-each-time\n  factoryName: MILL.UF2
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
