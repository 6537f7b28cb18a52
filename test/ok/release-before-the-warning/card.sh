# release: tansy-31
# supply: small
# installed: 30
# change: ">=28"\n      hazard: advice => ">=32"\n      hazard: unsafe
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065N
