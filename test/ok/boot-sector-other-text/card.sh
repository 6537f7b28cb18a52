# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The text may name no width, and the name of the formatter means nothing.
burr_card
poke $((2048 * 512 + 57)) 20 20
poke $((2048 * 512 + 3)) 4c 41 52 4b 46 49 45 4c
