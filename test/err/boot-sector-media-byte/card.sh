# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# A media byte that does not exist: no driver mounts the volume.
burr_card
poke $((2048 * 512 + 21)) 12
