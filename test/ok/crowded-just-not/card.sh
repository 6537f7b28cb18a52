# board: burr
# change: maxEntries: any => maxEntries: 3
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Three things in the root folder: label and files in other folders do not count.
card 20M
mbr 'start=2048, type=6'
fat 16 8 2048 -n CARD
burr_files
for number in 1 2; do put "$(text 'plan\n')" "PLAN$number.TXT"; done
