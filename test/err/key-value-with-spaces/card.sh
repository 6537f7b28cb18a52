# board: burr
# change: title: start file => title: start file\n    text: { encoding: ascii, grammar: key-value }
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(text 'flash = yes\n')" BURR/START.LKT
