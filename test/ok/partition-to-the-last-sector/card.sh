# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The partition ends with the last sector of the card, and the volume with the partition.
card 20M
mbr 'start=2048, size=38912, type=6'
fat 16 8
burr_files
