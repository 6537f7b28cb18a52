# release: tansy-31
# supply: small
# installed: 30
# change: TANSY-065N.LKF] => TANSY-065N.LKF]\n    board: { revision: A }
# change-2: take turns)\n    kind: application => take turns)\n    kind: both
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065N
