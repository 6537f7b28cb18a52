# release: tansy-31
# supply: 24V/6.5A
# installed: 23
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_card "$(bytes 32768)"
