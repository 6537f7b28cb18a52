# board: clinker
# set: boardRevision=A made=2025-07-01
# installed: 2.4
. "$(dirname "$0")/../../support/card-tools.sh"
clinker_card "$(linked 0x10000 0x10008000 8192)" 0x10000
