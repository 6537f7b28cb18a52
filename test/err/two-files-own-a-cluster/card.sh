# board: burr
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# The chain of another file runs into the update file.
burr_card
put "$(bytes 9000)" NOTES.DAT
other=$(first_cluster NOTES.DAT)
first=$(printf '%04x' $(($(first_cluster BURR/MILL.UF2) + 2)))
entry "$other" "${first:2:2}" "${first:0:2}"
