# release: tansy-31
# supply: 24V/6.5A
# installed: 31
. "$(dirname "$0")/../../support/card-tools.sh"
file=$(linked 0x08010000 0x20020000 16380)
patch "$file" 4 40
tansy_card "$(with_crc "$file")"
