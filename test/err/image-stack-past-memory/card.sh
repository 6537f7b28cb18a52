# release: tansy-31
# supply: 24V/6.5A
# installed: 31
. "$(dirname "$0")/../../support/card-tools.sh"
# For a part with 192 KiB where this one has 128.
tansy_card "$(with_crc "$(linked 0x08010000 0x20030000 16380)")"
