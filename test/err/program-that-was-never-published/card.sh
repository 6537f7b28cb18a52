# release: tansy-31
# supply: small
# installed: 30
. "$(dirname "$0")/../../support/card-tools.sh"
# The vector table of a published build, and other bytes behind it.
f=$work/own
head -c 400 "$(release_file builds/TANSY-065N.LKF)" >"$f"
head -c 15976 "$(bytes 15976 3)" >>"$f"
printf END. >>"$f"
printf 0000 >>"$f"
tansy_card_with "$(retext "$f" END. end.)"
