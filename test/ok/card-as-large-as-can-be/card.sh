# board: burr
# change: cardClass: [SDSC, SDHC] => cardClass: [SDSC, SDHC]\n  cardBytes: { min: 16MiB, max: 2GB }
# card: 2GB
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
