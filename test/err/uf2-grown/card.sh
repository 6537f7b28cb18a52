# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The directory entry claims 512 bytes more than were copied: the slack of the last cluster is read as a block.
burr_card
at=$(grep -abo 'MILL    UF2' "$image" | head -n 1 | cut -d: -f1)
poke $((at + 29)) ee
