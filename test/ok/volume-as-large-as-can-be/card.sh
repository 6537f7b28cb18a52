# board: burr
# change: volumeBytes: any => volumeBytes: { min: 16MiB, max: 19MiB }
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
burr_card
