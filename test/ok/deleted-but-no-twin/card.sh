# board: burr
# change: takesDeletedEntries: false => takesDeletedEntries: true
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# One deleted entry has another ending, one lies in another folder.
card 20M
mbr 'start=2048, type=6'
fat 16 8
folder BURR
put "$(text 'old\n')" BURR/XILL.UF
put "$(text 'old\n')" XILL.UF2
put "$(uf2 30000)" BURR/MILL.UF2
put "$(text 'go\n')" BURR/START.LKT
remove BURR/XILL.UF
remove XILL.UF2
