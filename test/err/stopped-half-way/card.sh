# board: burr
# change: stageNames: any => stageNames: [{ suffix: .WR, means: the loader stopped while it wrote }]
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card_without_file
put "$(uf2 40000)" BURR/MILL.WR
