# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The short entry of a file is marked deleted and its long name is left, as a board does that knows short names only.
burr_card
put "$(empty)" 'plans of last winter.txt'
at=$(grep -abo 'PLANSO~1TXT' "$image" | head -n 1 | cut -d: -f1)
poke "$at" e5
