# release: tansy-31
# supply: 12V/30A
# installed: 30
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065N
