# board: burr
# change: partitioning: [mbr] => partitioning: [mbr, gpt]
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# A reserved byte of the first header, which is zero, is changed, so that its checksum is wrong. sgdisk would repair it from the backup.
card 20M
gpt -n 1:2048:0 -t 1:0700
volume_at=$((2048 * 512))
mkfs.fat -F 16 -s 8 --offset 2048 --invariant "$image" $(((40960 - 2048 - 34) / 2)) >/dev/null
burr_files
poke 532 7e
