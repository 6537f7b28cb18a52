# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Formatted without partitions first, partitioned later by a tool that leaves the first 440 bytes alone.
card 20M
fat 16 8 0
put "$(uf2 20000)" MILL.UF2
printf 'label: dos\nstart=2048, type=6\n' | sfdisk -q --no-tell-kernel --wipe never "$image" >/dev/null
fat 16 8
burr_files
