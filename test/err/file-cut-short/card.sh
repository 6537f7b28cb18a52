# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Both FATs end the update file's chain after its second cluster, long before its size.
burr_card
entry $(($(first_cluster BURR/MILL.UF2) + 1)) ff ff
