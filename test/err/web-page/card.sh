# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
put "$(text '<!DOCTYPE html><html><head><title>MILL.UF2</title></head><body>Download</body></html>\n')" BURR/MILL.UF2
