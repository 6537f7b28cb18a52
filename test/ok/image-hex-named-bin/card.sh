# board: clinker
# set: boardRevision=B made=2025-07-01
# installed: 2.4
. "$(dirname "$0")/../../support/card-tools.sh"
file=$(linked 0x10000 0x10008000 8192)
with_word_sum "$file"
clinker_card "$file" 0x10000
put "$work/hex" CLINK2.BIN
remove CLINKER.HEX
