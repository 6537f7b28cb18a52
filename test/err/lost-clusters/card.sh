# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# A cluster near the end is marked as used in both FATs and belongs to no file.
burr_card
entry 4000 ff ff
