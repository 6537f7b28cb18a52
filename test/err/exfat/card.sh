# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
card 32M
mbr 'start=2048, type=7'
truncate -s 31M "$work/volume"
mkfs.exfat -L CARD "$work/volume" >/dev/null
dd if="$work/volume" of="$image" bs=1M seek=1 conv=notrunc,sparse status=none
