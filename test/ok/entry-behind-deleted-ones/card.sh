# board: burr
# change-2: path: BURR/MILL.UF2 => path: MILL.UF2
# change-1: FAT16: 512 => FAT16: 16
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Sixteen entries stand before the update file; twelve of them are deleted, which this loader does not count.
card 20M
mbr 'start=2048, type=6'
fat 16 8
for number in 01 02 03 04 05 06 07 08 09 10 11 12 13 14 15 16; do put "$(empty)" "JOB$number.TXT"; done
put "$(uf2 30000)" MILL.UF2
for number in 01 02 03 04 05 06 07 08 09 10 11 12; do remove "JOB$number.TXT"; done
folder BURR
put "$(text 'go\n')" BURR/START.LKT
