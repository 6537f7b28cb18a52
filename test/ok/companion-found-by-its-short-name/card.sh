# board: burr
# set: panel=none
# The long name begins with the long s (U+017F), the short name with a plain S, and the loader compares both.
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
remove BURR/START.LKT
put "$(text 'go\n')" "BURR/$(printf '\305\277')TART.LKT"
