# board: burr
# change: path: BURR/MILL.UF2 => match: { folder: BURR, glob: "*.UF2", takes: first-entry }
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(bytes 4096)" BURR/._MILL.UF2
