# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
sfdisk -q --no-tell-kernel --part-type "$image" 1 83 >/dev/null
