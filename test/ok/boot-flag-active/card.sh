# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
sfdisk -q --no-tell-kernel --activate "$image" 1 >/dev/null
