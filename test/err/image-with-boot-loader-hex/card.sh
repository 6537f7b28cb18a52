# board: clinker
# set: boardRevision=A made=2025-07-01
# installed: 2.4
. "$(dirname "$0")/../../support/card-tools.sh"
loader=$(linked 0x0 0x10008000 8192)
program=$(linked 0x10000 0x10008000 8192)
srec_cat "$loader" -binary "$program" -binary -offset 0x10000 -o "$work/both" -intel
clinker_card "$work/both"
