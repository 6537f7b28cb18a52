# board: burr
# set: panel=none
# change: core: xtensa => core: cortex-m4
# change-1: ram: { start: 0x3FC88000, bytes: 480KiB } => ram: { start: 0x20000000, bytes: 128KiB }
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_with "$(uf2_of "$(linked 0x10000 0x20020000 32768)")"
