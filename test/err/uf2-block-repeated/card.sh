# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Block 5 stands twice.
burr_card_without_file
file=$(uf2 30000)
block() { dd if="$file" bs=512 skip="$1" count="${2:-1000000}" status=none; }
{ block 0 6; block 5; } >"$work/repeated"
put "$work/repeated" BURR/MILL.UF2
