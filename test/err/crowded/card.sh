# board: burr
# change: maxEntries: any => maxEntries: 3
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
for number in 1 2 3; do put "$(text 'plan\n')" "PLAN$number.TXT"; done
