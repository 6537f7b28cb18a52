# A card for the Larkfield Burr: the start file was forgotten.
. "$(dirname "$0")/../../test/support/card-tools.sh"
burr_card
remove BURR/START.LKT
