# release: tansy-31
# supply: small
# installed: 30
# change: factor: 0.8, hazard: advice => factor: 0.79, hazard: unsafe
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065N
