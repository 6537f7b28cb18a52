# board: burr
# change-1: longNames: true => longNames: false
# change-2: nameLength: 64 => nameLength: 12
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The folder is called BURR by its long name alone, and this loader reads short names.
burr_card
rename_raw root 'BURR       ' 'QQ~1       ' BURR
