# release: tansy-31
# supply: small
# installed: 30
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_card_with "$(retext "$(release_file builds/TANSY-065N.LKF)" LKF-TANSY-065N LKF-TWIN-00065)"
