# release: tansy-31
# supply: small
# installed: 18
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065O
