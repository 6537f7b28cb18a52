# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
file=$(uf2 30000)
{ head -c 5120 "$file"; tail -c +5633 "$file"; } >"$work/cut"
put "$work/cut" BURR/MILL.UF2
