#!/bin/sh
# Checks a release and the card images made from it, on any build server or by hand:
#
#   check-cards.sh RELEASE CARDS RESULTS [options of flashworthy check]
#
# RELEASE is the release folder, CARDS a folder with images (*.img, *.img.gz; names without line breaks), RESULTS a
# folder for the reports, which is made anew. The report for people goes to standard output. The exit code is 0 only when
# the release is complete and every card is fit. FLASHWORTHY names the command, such as "npx --no-install flashworthy".
set -eu

if [ $# -lt 3 ]; then
  echo "usage: $0 RELEASE CARDS RESULTS [options of flashworthy check]" >&2
  exit 64
fi
release=$1
cards=$2
results=$3
shift 3
# Not in quotes where it is used: it may be several words.
flashworthy=${FLASHWORTHY:-flashworthy}

if [ -e "$results" ]; then
  echo "$results is there already: name a folder that is not" >&2
  exit 74
fi
mkdir "$results"

code=0
# Is every machine served by exactly one build?
$flashworthy release "$release" || code=$?

find "$cards" -type f \( -name '*.img' -o -name '*.img.gz' \) | LC_ALL=C sort > "$results/cards.txt"
# No card at all is no success: the list is empty then, and the command ends with 64.
$flashworthy check --cards-from "$results/cards.txt" --board "$release" "$@" \
  --report "sarif=$results/cards.sarif" \
  --report "junit=$results/cards.xml" \
  --report "json=$results/cards/" || code=$?

exit "$code"
