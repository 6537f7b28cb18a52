# board: burr
# change: title: start file => title: start file\n    text: { encoding: utf-8 }
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(text 'g\x00o\x00\n\x00')" BURR/START.LKT
