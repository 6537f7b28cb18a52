# board: burr
# change: path: BURR/MILL.UF2 => match: { folder: BURR, glob: "*MILL.UF2", takes: first-entry }
# change-1: longNames: true => longNames: false
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
# The card gives it the short name NEWEST~1.UF2.
put "$(uf2 30000)" BURR/NEWESTMILL.UF2
