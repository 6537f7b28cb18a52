# board: burr
# change: path: BURR/MILL.UF2 => match: { folder: BURR, contains: .UF2, takes: first-entry }
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(uf2 40000)" BURR/OLD.UF2.BAK
