# board: burr
# change: searches: table => searches: whole-card
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# An earlier volume began at sector 63; the card was erased in between.
card 20M
fat 16 8 63
dd if=/dev/zero of="$image" bs=1M count=20 conv=notrunc status=none
mbr 'start=2048, type=6'
fat 16 8
burr_files
