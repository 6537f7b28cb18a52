# release: tansy-31
# supply: small
# installed: 30
# change: text: LKF-TWIN => text: LKF-TANSY-066
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065N
