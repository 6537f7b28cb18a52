# A card for the Larkfield Burr: as a camera or a computer formats large cards: exFAT.
. "$(dirname "$0")/../../test/support/card-tools.sh"
card 4M
mbr 'start=2048, type=7'
truncate -s 3M "$work/volume"
mkfs.exfat -L CARD "$work/volume" >/dev/null
dd if="$work/volume" of="$image" bs=1M seek=1 conv=notrunc,sparse status=none
