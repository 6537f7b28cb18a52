# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The second FAT ends the update file's chain after its second cluster.
burr_card
poke $(($(fat_at 1) + ($(first_cluster BURR/MILL.UF2) + 1) * 2)) ff ff
