# board: burr
# change: reservedSectors: any => reservedSectors: [1, 2, 4, 8]
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
card 20M
mbr 'start=2048, type=6'
fat 16 8 2048 -R 8
burr_files
