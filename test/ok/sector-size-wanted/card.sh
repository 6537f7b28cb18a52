# board: burr
# change: sectorBytes: [512] => sectorBytes: [512, 1024]
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Sectors of 1024 bytes; the clusters keep their 4 KiB.
card 20M
mbr 'start=2048, type=6'
truncate -s 19M "$work/volume"
mkfs.fat -F 16 -S 1024 -s 4 --invariant "$work/volume" >/dev/null
dd if="$work/volume" of="$image" bs=1M seek=1 conv=notrunc,sparse status=none
volume_at=1048576
burr_files
