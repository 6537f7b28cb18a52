# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The long name has a dotless i, as a Turkish keyboard writes it; no driver takes it for the letter I.
burr_card
rename_raw 'BURR       ' 'MILL    UF2' 'MILL~1  UF2' "$(printf 'M\u0131LL.UF2')"
