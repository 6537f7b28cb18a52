# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The same history, with the older description erased by the partitioning tool.
card 20M
fat 16 8 0
put "$(uf2 20000)" MILL.UF2
printf 'label: dos\nstart=2048, type=6\n' | sfdisk -q --no-tell-kernel --wipe always "$image" >/dev/null
fat 16 8
burr_files
