# board: burr
# set: panel=none
# change: core: xtensa => core: cortex-m4
# change-1: ram: { start: 0x3FC88000, bytes: 480KiB } => ram: { start: 0x20000000, bytes: 128KiB }
# change-2: encoding: uf2 => encoding: raw
# change-3: lengthMultiple: 512 => lengthMultiple: any
# change-4: skipBytes: 0 => skipBytes: 1024
. "$(dirname "$0")/../../support/card-tools.sh"
# This loader passes over 1 KiB, and the program begins 4 KiB into the file.
file=$(linked 0x10000 0x20020000 32768)
{ head -c 4096 /dev/zero; cat "$file"; } >"$work/padded"
burr_card_with "$work/padded"
