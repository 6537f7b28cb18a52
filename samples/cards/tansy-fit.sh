# A card for a Larkfield Tansy with the small supply and the newer boot loader: right in every way.
. "$(dirname "$0")/../../test/support/card-tools.sh"
release="$(dirname "$0")/../releases/tansy-31"
card 36M
mbr 'start=2048, type=c'
fat 32 1
put "$release/builds/TANSY-065N.LKF" TANSY.LKF
put "$release/LARKGO.TXT" LARKGO.TXT
