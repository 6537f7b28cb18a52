# board: burr
# change: otherFiles: allowed => otherFiles: forbidden
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
put "$(text 'plan\n')" PLAN.TXT
