# board: burr
# change: bootCode: any => bootCode: must-be-zero
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The serial number of the disk at byte 440 is no code.
burr_card
