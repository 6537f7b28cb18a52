# board: burr
# set: panel=none
# change: core: xtensa => core: cortex-m4
# change-1: ram: { start: 0x3FC88000, bytes: 480KiB } => ram: { start: 0x20000000, bytes: 128KiB }
# change-2: encoding: uf2 => encoding: scrambled
. "$(dirname "$0")/../../support/card-tools.sh"
# Nobody can see where in the memory such a program goes, so that nothing is proved.
burr_card_with "$(bytes 32768)"
