# board: burr
# change: addressing: sectors => addressing: bytes32
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The volume begins 512 KiB before the limit of 4 GiB and the update file lies behind it.
card 4128M
mbr 'start=8387584, type=6'
fat 16 8 8387584
put "$(bytes 700000)" OLD.DAT
burr_files
