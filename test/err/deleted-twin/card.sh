# board: burr
# change: takesDeletedEntries: false => takesDeletedEntries: true
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# A deleted name that differs from the wanted one in its first letter only, which deleting destroys.
card 20M
mbr 'start=2048, type=6'
fat 16 8
folder BURR
put "$(text 'old\n')" BURR/XILL.UF2
put "$(uf2 30000)" BURR/MILL.UF2
put "$(text 'go\n')" BURR/START.LKT
remove BURR/XILL.UF2
