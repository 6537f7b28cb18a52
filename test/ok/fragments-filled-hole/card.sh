# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The same history, and the hole is exactly as long as the update file: one piece after all.
card 20M
mbr 'start=2048, type=6'
fat 16 8
folder BURR
file=$(uf2 30000)
put "$file" OLD1.BIN
put "$(bytes 8000 2)" OLD2.BIN
remove OLD1.BIN
put "$file" BURR/MILL.UF2
put "$(text 'go\n')" BURR/START.LKT
