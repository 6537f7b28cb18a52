# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
card 20M
mbr 'start=2048, type=6'
fat 16 8 2048 -n CARD
burr_files
