# release: tansy-31
# supply: small
# installed: 30
# change: text: LKF-TANSY-065N => text: LKF-TANSY-065X
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065N
