# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The last sector of a FAT has room for entries of clusters that do not exist; what stands there means nothing.
burr_card
poke $(($(fat_at 1) + 4880 * 2)) 12 34
