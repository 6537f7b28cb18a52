# release: tansy-31
# supply: 24V/8.2A
# installed: 30
# change: needs: { volts: 24, amps: 9 } => needs: { volts: 24, amps: 7 }
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-150N
