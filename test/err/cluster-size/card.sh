# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
card 40M
mbr 'start=2048, type=6'
fat 16 4
burr_files
