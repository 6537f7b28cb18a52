# board: burr
# set: panel=none
# change: loader.rootEntries: assumed => loader.clusterBytes: seen
. "$(dirname "$0")/../../support/card-tools.sh"
# The profile knows only what was seen to work: another cluster size is not proved wrong.
card 40M
mbr 'start=2048, type=6'
fat 16 4
burr_files
