# release: tansy-31
# supply: 24V/20A
# installed: 30
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-150N
