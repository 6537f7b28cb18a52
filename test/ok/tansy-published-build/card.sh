# release: tansy-31
# supply: 24V/6.5A
# installed: 31
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_card "$here/../../samples/releases/tansy-31/builds/TANSY-065N.LKF"
