# release: tansy-31
# supply: 24V/6.5A
# installed: 23
. "$(dirname "$0")/../../support/card-tools.sh"
# Unpublished, and linked for the application area of the newer boot loader. This loader erases before it reads.
tansy_card "$(with_crc "$(linked 0x08010000 0x20020000 16380)")"
