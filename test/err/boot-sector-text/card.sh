# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The text FAT16 at byte 54 is gone: a widely used driver refuses the volume, computers read it.
burr_card
poke $((2048 * 512 + 54)) 20 20 20 20 20
