# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
{ head -c 63 /dev/zero; printf x; cat "$(bytes 32704)"; } >"$work/head"
burr_card_with "$(uf2_of "$work/head")"
