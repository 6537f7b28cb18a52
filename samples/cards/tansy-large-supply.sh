# The same card with the build for the large supply; renamed, it looks like the right one.
. "$(dirname "$0")/../../test/support/card-tools.sh"
release="$(dirname "$0")/../releases/tansy-31"
card 36M
mbr 'start=2048, type=c'
fat 32 1
put "$release/builds/TANSY-150N.LKF" TANSY.LKF
put "$release/LARKGO.TXT" LARKGO.TXT
