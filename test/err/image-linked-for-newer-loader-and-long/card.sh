# release: tansy-31
# supply: 24V/6.5A
# installed: 23
. "$(dirname "$0")/../../support/card-tools.sh"
# So long that its vectors point into it here too: only the address of its own table gives it away.
file=$(linked 0x08010000 0x20020000 65532)
patch "$file" 1024 $(little 0x08010000)
tansy_card "$(with_crc "$file")"
