# board: burr
# unreadable: 1110016 512
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The runner makes a stretch of the update file unreadable, as a dying card does.
burr_card
