# board: burr
# change: title: start file => title: start file\n    text: { encoding: utf-8, bom: false }
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(text 'f\xc3\xbcr\n')" BURR/START.LKT
