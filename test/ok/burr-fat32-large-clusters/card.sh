# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# FAT32 at the upper end: 8 KiB clusters, 70,000 of them.
card 600M
mbr 'start=8192, type=c'
fat 32 16 8192
burr_files
