# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The only partition stands in the second slot of the table.
card 20M
mbr '2 : start=2048, size=38912, type=6'
fat 16 8
burr_files
