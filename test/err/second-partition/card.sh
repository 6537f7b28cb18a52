# board: burr
# change: onlyPartition: any => onlyPartition: true
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
card 24M
mbr 'start=2048, size=38912, type=6
start=40960, size=4096, type=83'
fat 16 8
burr_files
