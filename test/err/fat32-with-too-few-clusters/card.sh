# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# FAT32 in all its fields, shortened to 60,000 clusters in the boot sector and its backup. By that number it is FAT16,
# which has another kind of root folder: drivers that count refuse it.
card 300M
mbr 'start=8192, type=c'
fat 32 8 8192
burr_files
fat_sectors=$((0x$(peek $((volume_at + 37)) 1)$(peek $((volume_at + 36)) 1)))
total=$(printf '%08x' $((32 + 2 * fat_sectors + 60000 * 8)))
for sector in 0 6; do
  poke $((volume_at + sector * 512 + 32)) "${total:6:2}" "${total:4:2}" "${total:2:2}" "${total:0:2}"
done
