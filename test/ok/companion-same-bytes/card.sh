# board: burr
# change: content: any => content: same-as-update
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(uf2 30000)" BURR/START.LKT
