# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# One FAT, which this loader takes.
card 20M
mbr 'start=2048, type=6'
fat 16 8 2048 -f 1
burr_files
