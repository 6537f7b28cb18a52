# A card for the Larkfield Burr: right but for its clusters, which have 2 KiB.
. "$(dirname "$0")/../../test/support/card-tools.sh"
card 12M
mbr 'start=2048, type=6'
fat 16 4
burr_files
