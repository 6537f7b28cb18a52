# release: tansy-31
# supply: 24V/6.5A
# installed: 31
. "$(dirname "$0")/../../support/card-tools.sh"
# The same program as for a board without a boot loader; the checksum is right.
tansy_card "$(with_crc "$(linked 0x08000000 0x20020000 16380)")"
