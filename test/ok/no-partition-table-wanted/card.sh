# board: burr
# set: panel=none
# change-1: partitioning: [mbr] => partitioning: [mbr, none]
. "$(dirname "$0")/../../support/card-tools.sh"
card 20M
fat 16 8 0
burr_files
