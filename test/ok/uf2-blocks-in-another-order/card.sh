# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# All blocks are there, two of them exchanged: the UF2 layout allows any order.
burr_card_without_file
file=$(uf2 30000)
block() { dd if="$file" bs=512 skip="$1" count="${2:-1000000}" status=none; }
{ block 0 1; block 2 1; block 1 1; block 3; } >"$work/swapped"
put "$work/swapped" BURR/MILL.UF2
