# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# An empty folder with the short name BURR stands before the real one, whose long name is BURR.
card 20M
mbr 'start=2048, type=6'
fat 16 8
folder "Old things"
burr_files
rename_raw root 'BURR       ' 'QQ~1       ' BURR
rename_raw root 'OLDTHI~1   ' 'BURR       ' 'Old things'
