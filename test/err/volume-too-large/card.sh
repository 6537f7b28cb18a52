# board: burr
# change: volumeBytes: any => volumeBytes: { min: 16MiB, max: 18MiB }
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
