# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The smallest UF2 file that the profile allows: 1 KiB.
burr_card 512
