# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
mattrib +r -i "$image@@$volume_at" ::BURR/MILL.UF2
