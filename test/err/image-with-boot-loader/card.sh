# release: tansy-31
# supply: 24V/6.5A
# installed: 31
. "$(dirname "$0")/../../support/card-tools.sh"
# Two programs in one file: a boot loader for the start of flash, and the program behind it.
loader=$(linked 0x08000000 0x20020000 65536)
program=$(linked 0x08010000 0x20020000 16380)
cat "$loader" "$program" >"$work/combined"
tansy_card "$(with_crc "$work/combined")"
