# board: burr
# change: nameCase: ignored => nameCase: upper-only
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
card 20M
mbr 'start=2048, type=6'
fat 16 8
folder Burr
put "$(uf2 30000)" Burr/MILL.UF2
put "$(text 'go\n')" Burr/START.LKT
