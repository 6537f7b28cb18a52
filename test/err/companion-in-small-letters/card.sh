# board: burr
# change: nameCase: ignored => nameCase: exact
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
remove BURR/START.LKT
put "$(text 'go\n')" BURR/Start.lkt
