# board: burr
# change: path: BURR/MILL.UF2 => match: { folder: BURR, glob: "MILL*.UF2", takes: first-entry }
# change-1: nameLength: 64 => nameLength: 12
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
put "$(uf2 30000)" BURR/MILL-202.UF2
