# release: tansy-31
# supply: small
# installed: 20
. "$(dirname "$0")/../../support/card-tools.sh"
head -c 16000 "$(release_file builds/TANSY-065O.LKF)" >"$work/short"
tansy_card_with "$work/short"
