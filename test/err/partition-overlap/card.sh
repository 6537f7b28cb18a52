# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# A second entry that begins inside the first: sfdisk refuses to write it, so the bytes are put there.
burr_card
poke 462 00 00 00 00 06 00 00 00 00 20 00 00 00 10 00 00
