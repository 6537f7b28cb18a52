# The same card with the build for the older boot loader.
. "$(dirname "$0")/../../test/support/card-tools.sh"
release="$(dirname "$0")/../releases/tansy-31"
card 36M
mbr 'start=2048, type=c'
fat 32 1
put "$release/builds/TANSY-065O.LKF" TANSY.LKF
put "$release/LARKGO.TXT" LARKGO.TXT
