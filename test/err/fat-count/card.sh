# board: burr
# change: fatCount: [1, 2] => fatCount: [2]
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
card 20M
mbr 'start=2048, type=6'
fat 16 8 2048 -f 1
burr_files
