# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Deleted by a computer: the long name is marked deleted as well.
burr_card
put "$(empty)" 'plans of last winter.txt'
remove 'plans of last winter.txt'
