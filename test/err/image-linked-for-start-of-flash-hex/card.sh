# board: clinker
# set: boardRevision=A made=2025-07-01
# installed: 2.4
. "$(dirname "$0")/../../support/card-tools.sh"
file=$(linked 0x0 0x10008000 8192)
with_word_sum "$file"
clinker_card "$file" 0x0
