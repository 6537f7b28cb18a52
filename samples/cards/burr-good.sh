# A card for the Larkfield Burr: right in every way.
. "$(dirname "$0")/../../test/support/card-tools.sh"
burr_card
