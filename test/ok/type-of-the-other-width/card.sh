# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# FAT16 in a partition of a FAT32 type: no driver minds.
burr_card
sfdisk -q --no-tell-kernel --part-type "$image" 1 c >/dev/null
