# board: burr
# change: searches: table => searches: whole-card
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# An earlier volume began at sector 63, in front of the one of today.
card 20M
fat 16 8 63
mbr "start=2048, type=6"
fat 16 8
burr_files
