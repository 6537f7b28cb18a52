# board: burr
# set: panel=none
# change: core: xtensa => core: cortex-m4
# change-1: ram: { start: 0x3FC88000, bytes: 480KiB } => ram: { start: 0x20000000, bytes: 128KiB }
. "$(dirname "$0")/../../support/card-tools.sh"
# Cut off by the build: the program starts in a part that is not there.
file=$(linked 0x10000 0x20020000 32768)
for vector in 4 8 12 16 20 24 44 48 56 60; do patch "$file" $vector $(little 0x18001); done
burr_card_with "$(uf2_of "$file")"
