# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Two files beside each other, the first deleted: the update file fills the hole and goes on behind.
card 20M
mbr 'start=2048, type=6'
fat 16 8
folder BURR
put "$(bytes 8000)" OLD1.BIN
put "$(bytes 8000 2)" OLD2.BIN
remove OLD1.BIN
put "$(uf2 30000)" BURR/MILL.UF2
put "$(text 'go\n')" BURR/START.LKT
