# board: burr
# change: addressing: sectors => addressing: bytes32
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The same volume with nothing before the update file, which ends in front of the limit.
card 4128M
mbr 'start=8387584, type=6'
fat 16 8 8387584
burr_files
