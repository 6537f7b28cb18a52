# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
srec_cat "$(bytes 30000)" -binary -offset 0x10000 -o "$work/hex" -intel
put "$work/hex" BURR/MILL.UF2
