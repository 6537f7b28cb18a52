# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
remove BURR/START.LKT
# The A is Cyrillic.
put "$(text 'go\n')" "BURR/STАRT.LKT"
