# board: burr
# change: bootCode: any => bootCode: must-be-zero
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The first instructions of a start-up program for computers: CLI, XOR AX,AX, MOV SS,AX.
burr_card
poke 0 fa 33 c0 8e d0
