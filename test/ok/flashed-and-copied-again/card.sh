# board: burr
# change: afterSuccess: keep => afterSuccess: rename
# change-1: doneMarker: any => doneMarker: MILL.DON
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(uf2 40000)" BURR/MILL.DON
