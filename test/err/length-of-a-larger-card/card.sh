# board: burr
# change: trusts: boot-sector => trusts: table
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# A partition of 300 MiB, and in it the volume of a small card: by the table's length it would be FAT32.
card 310M
mbr 'start=2048, size=614400, type=6'
volume_at=$((2048 * 512))
mkfs.fat -F 16 -s 8 --offset 2048 -h 2048 --invariant "$image" 19456 >/dev/null
burr_files
