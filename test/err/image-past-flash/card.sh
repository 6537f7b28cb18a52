# board: burr
# set: panel=none
# change: flash: { start: 0x0, bytes: 8MiB } => flash: { start: 0x0, bytes: 96KiB }
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_with "$(uf2_of "$(bytes 33024)")"
