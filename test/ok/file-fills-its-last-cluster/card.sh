# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# 64 blocks of 512 bytes: the file ends exactly where its eighth cluster ends.
burr_card 16384
