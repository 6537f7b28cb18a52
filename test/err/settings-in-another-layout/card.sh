# release: tansy-31
# supply: small
# installed: 23
# change: carry: [M92, M206, M301, M304, M851] => stepsTolerance: 0.02
# change-2: \n  stepsTolerance: 0.02\n\nidentity => \n\nidentity
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065O
