# board: burr
# change: afterSuccess: keep => afterSuccess: rename
# change-1: doneMarker: any => doneMarker: MILL.DON
# change-2: markerBlocks: any => markerBlocks: true
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(uf2 40000)" BURR/MILL.DON
