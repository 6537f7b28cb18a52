# board: burr
# change: stageNames: any => stageNames: [{ suffix: .WR, means: the loader stopped while it wrote }]
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(uf2 40000)" BURR/PLANS.WR
