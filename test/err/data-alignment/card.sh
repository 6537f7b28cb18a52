# board: burr
# change: dataAlignment: any => dataAlignment: 16KiB
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# mkfs.fat without its alignment: the data area begins at an odd sector.
card 20M
mbr 'start=2048, type=6'
fat 16 8 2048 -a
burr_files
