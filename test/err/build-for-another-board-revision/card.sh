# release: tansy-31
# supply: small
# installed: 30
# set: boardRevision=B
# change: axes:\n  - id: installed => axes:\n  - id: boardRevision\n    ask: Which revision is the board?\n    values: [A, B]\n  - id: installed
# change-2: TANSY-065N.LKF]\n    for: { loader: newer } => TANSY-065N.LKF]\n    for: { loader: newer, boardRevision: A }
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065N
