# Words for the recipes of test cards: each makes a part of a card with a real formatter. A recipe is a shell
# script that sources this file; it gets the path of the image to make as its first argument.
#
#   card 32M                      an empty medium
#   mbr 'start=2048, type=e'      an MBR with these sfdisk lines
#   gpt -n 1:2048:0 -t 1:0700     a GPT with these sgdisk options
#   fat 16 8 [START] [options]    FAT16 with 8 sectors a cluster, at sector START (2048 when left out)
#   put FILE NAME                 copies a file into the volume
#   folder NAME                   makes a folder
#   remove NAME                   deletes a file
#   bytes COUNT [SEED]            makes a file of COUNT bytes that look random, prints its name
#   poke OFFSET HEX…              writes bytes at a place of the medium
#   peek OFFSET COUNT             prints bytes of the medium in hexadecimal
set -euo pipefail
export MTOOLS_SKIP_CHECK=1 LC_ALL=C.UTF-8 TZ=UTC SOURCE_DATE_EPOCH=1767225600
image=$1
work=$(dirname "$image")
volume_at=0
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)

card() { rm -f "$image"; truncate -s "$1" "$image"; }
mbr() { printf 'label: dos\nlabel-id: 0x4c464b31\n%s\n' "$1" | sfdisk -q --no-tell-kernel "$image" >/dev/null; }
gpt() { sgdisk -o "$@" "$image" >/dev/null; }

fat() {
  local width=$1 sectors=$2 start=${3:-2048} size
  shift $(($# > 3 ? 3 : $#))
  volume_at=$((start * 512))
  # The partition's own length when there is one, else what is left of the medium.
  size=$(sfdisk -d "$image" 2>/dev/null | sed -n "s/.*start= *$start, size= *\([0-9]*\).*/\1/p" | head -n 1)
  [ -n "$size" ] || size=$(($(stat -c %s "$image") / 512 - start))
  mkfs.fat -F "$width" -s "$sectors" --offset "$start" -h "$start" -i 1a2b3c4d --invariant "$@" "$image" $((size / 2)) >/dev/null
}

put() { mcopy -o -i "$image@@$volume_at" "$1" "::$2"; }
folder() { mmd -i "$image@@$volume_at" "::$1"; }
remove() { mdel -i "$image@@$volume_at" "::$1"; }
bytes() {
  local name="$work/bytes-$1-${2:-1}"
  openssl enc -aes-128-ctr -K "$(printf '%032x' "${2:-1}")" -iv 0 -nosalt </dev/zero 2>/dev/null | head -c "$1" >"$name" || true
  printf '%s' "$name"
}
empty() { : >"$work/empty"; printf '%s' "$work/empty"; }
text() { printf "$1" >"$work/text"; printf '%s' "$work/text"; }
poke() {
  local offset=$1
  shift
  printf '%b' "$(printf '\\x%s' "$@")" | dd of="$image" bs=1 seek="$offset" conv=notrunc status=none
}
peek() { dd if="$image" bs=1 skip="$1" count="$2" status=none | od -An -v -tx1 | tr -d ' \n'; }
