# board: burr
# change: title: start file => title: start file\n    text: { encoding: ascii, lineEnds: lf }
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(text 'head\r\ngo\r\n')" BURR/START.LKT
