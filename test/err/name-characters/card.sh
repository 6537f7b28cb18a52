# board: burr
# change: path: BURR/MILL.UF2 => match: { folder: BURR, glob: "MILL*.UF2", takes: first-entry }
# change-1: nameCharacters: any => nameCharacters: A-Z0-9_
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
put "$(uf2 30000)" "BURR/MILL é.UF2"
