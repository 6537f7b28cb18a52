# release: tansy-31
# supply: small
# installed: 32
# change: comparedBy: any => comparedBy: any\n  locks:\n    - { from: "32", because: Release 32 replaces the key with which programs are checked. }
. "$(dirname "$0")/../../support/card-tools.sh"
tansy_release_card TANSY-065N
