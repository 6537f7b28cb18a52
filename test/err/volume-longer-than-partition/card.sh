# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The volume was made for a longer partition; the table was shortened afterwards.
burr_card
poke 458 00 90 00 00
