# board: burr
# change: cardClass: [SDSC, SDHC] => cardClass: [SDSC, SDHC]\n  cardBytes: { min: 16MiB, max: 2GB }
# card: 4GB
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
