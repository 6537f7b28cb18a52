# board: burr
# change: ignoresLabel: true => ignoresLabel: false
# change-1: path: BURR/MILL.UF2 => path: MILL.UF2
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Eleven bytes that are those of the file name MILL.UF2.
card 20M
mbr 'start=2048, type=6'
fat 16 8 2048 -n 'MILL    UF2'
folder BURR
put "$(text 'go\n')" BURR/START.LKT
put "$(uf2 30000)" MILL.UF2
