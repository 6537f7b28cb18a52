# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The short name of the folder is BURR, its long name another: a loader finds it by either.
burr_card
rename_raw root 'BURR       ' 'BURR       ' 'Engraving'
