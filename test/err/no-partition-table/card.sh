# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
card 20M
fat 16 8 0
burr_files
