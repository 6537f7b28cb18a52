# board: burr
# change: fsInfo: false => fsInfo: true
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
card 300M
mbr "start=8192, type=c"
fat 32 8 8192
burr_files
# The count of free clusters in the FSInfo sector.
poke $((8192 * 512 + 512 + 488)) 01 00 00 00
