# board: burr
# change: path: BURR/MILL.UF2 => path: [{ for: { panel: none }, path: BURR/MILL.UF2 }, { for: { panel: dial }, path: BURRS/MILL.UF2 }]
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
folder BURRS
put "$(uf2 30000)" BURRS/MILL.UF2
