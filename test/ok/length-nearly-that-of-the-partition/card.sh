# board: burr
# change: trusts: boot-sector => trusts: table
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The volume ends 512 KiB before its partition.
card 21M
mbr 'start=2048, size=39936, type=6'
volume_at=$((2048 * 512))
mkfs.fat -F 16 -s 8 --offset 2048 -h 2048 --invariant "$image" 19456 >/dev/null
burr_files
