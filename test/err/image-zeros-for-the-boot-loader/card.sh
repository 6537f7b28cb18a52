# release: tansy-31
# supply: 24V/6.5A
# installed: 31
. "$(dirname "$0")/../../support/card-tools.sh"
# Filled up with zeros where the boot loader lies, as for a loader that passes over its own length.
file=$(linked 0x08010000 0x20020000 16380)
{ head -c 65536 /dev/zero; cat "$file"; } >"$work/padded"
tansy_card "$(with_crc "$work/padded")"
