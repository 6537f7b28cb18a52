# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# What a computer does that puts a system partition of its own in front: the files lie on the second volume.
card 40M
mbr 'start=2048, size=38912, type=ef
start=40960, size=38912, type=6'
fat 16 8
fat 16 8 40960
burr_files
