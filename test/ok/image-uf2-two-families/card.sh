# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
cat "$(uf2 30000)" "$(uf2 20000 10000 D42BA06C)" >"$work/two"
burr_card_with "$work/two"
