# board: burr
# set: panel=none
# change: \n  erases: never-blank => \n
. "$(dirname "$0")/../../support/card-tools.sh"
# A right card, and a profile that does not say when the boot loader erases.
burr_card
