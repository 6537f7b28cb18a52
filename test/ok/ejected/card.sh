# board: burr
# change: refusesDirty: false => refusesDirty: true
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
