# release: tansy-31
# supply: 24V/6.5A
# installed: 31
# edited: yes
. "$(dirname "$0")/../../support/card-tools.sh"
# The right card, and a profile that somebody changed after the release was made.
tansy_card "$here/../../samples/releases/tansy-31/builds/TANSY-065N.LKF"
