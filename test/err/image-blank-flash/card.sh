# release: tansy-31
# supply: 24V/6.5A
# installed: 31
. "$(dirname "$0")/../../support/card-tools.sh"
head -c 16384 /dev/zero | tr '\\000' '\\377' >"$work/blank"
tansy_card "$work/blank"
