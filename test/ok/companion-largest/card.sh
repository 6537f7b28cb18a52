# board: burr
# set: panel=dial
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(bytes 65536)" BURR/PANEL.DAT
