# release: tansy-31
# supply: 24V/6.5A
# installed: 31
. "$(dirname "$0")/../../support/card-tools.sh"
{ printf LKS2; cat "$(bytes 32764)"; } >"$work/scrambled"
tansy_card "$work/scrambled"
