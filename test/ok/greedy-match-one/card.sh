# board: burr
# change: path: BURR/MILL.UF2 => match: { folder: BURR, contains: .UF2, takes: first-entry }
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
put "$(uf2 30000)" BURR/NEW.UF2
put "$(uf2 40000)" BURR/OLD.UF
