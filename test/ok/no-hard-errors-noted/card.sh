# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Bit 15 alone is cleared: not ejected, which this loader does not mind, but no error.
burr_card
entry 1 ff 7f
