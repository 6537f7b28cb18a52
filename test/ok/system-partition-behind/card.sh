# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The same two partitions the other way round.
card 40M
mbr 'start=2048, size=38912, type=6
start=40960, size=38912, type=ef'
fat 16 8 40960
fat 16 8
burr_files
