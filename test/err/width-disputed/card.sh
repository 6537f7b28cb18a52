# board: burr
# change: driver: fatfs => driver: any
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# 4085 clusters: FAT16 by the specification, FAT12 for a widely used driver.
# mkfs.fat never makes this number, so the length in the boot sector is changed afterwards.
burr_card
cut_to_clusters 4085
