# board: burr
# change: title: start file => title: start file\n    text: { encoding: ascii, bom: false }
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(text '\xef\xbb\xbfgo\n')" BURR/START.LKT
