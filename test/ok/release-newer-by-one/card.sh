# release: tansy-31
# supply: small
# installed: 30
# change: takes: any\n  comparedBy: any => takes: newer\n  comparedBy: release
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065N
