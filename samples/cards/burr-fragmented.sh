# A card for the Larkfield Burr: the update file fills the hole that a deleted file left, and goes on behind the next one.
. "$(dirname "$0")/../../test/support/card-tools.sh"
card 20M
mbr 'start=2048, type=6'
fat 16 8
folder BURR
put "$(bytes 8000)" OLD1.BIN
put "$(bytes 8000 2)" OLD2.BIN
remove OLD1.BIN
put "$(uf2 30000)" BURR/MILL.UF2
put "$(text 'go\n')" BURR/START.LKT
