# release: tansy-31
# supply: small
# installed: 30
. "$(dirname "$0")/../../support/card-tools.sh"
cp "$(release_file builds/TANSY-065N.LKF)" "$work/changed"
printf '\101' | dd of="$work/changed" bs=1 seek=600 conv=notrunc status=none
tansy_card_with "$work/changed"
