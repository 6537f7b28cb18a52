# board: burr
# change: onlyPartition: any => onlyPartition: true
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
