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
  size=$(sfdisk -d "$image" 2>/dev/null | sed -n "s/.*start= *$start, size= *\([0-9]*\).*/\1/p" | head -n 1 || true)
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

# ---- the boards of samples/boards ---------------------------------------------------------------------------

# A UF2 file for the Burr: PROGRAM bytes from the start of its application area; prints its name.
uf2() {
  local name="$work/uf2-$1-${2:-10000}-${3:-C47E5767}"
  node "$here/make-uf2.mjs" "$(bytes "$1")" "$name" "${2:-10000}" "${3:-C47E5767}"
  printf '%s' "$name"
}

# Everything that the Burr wants on its card. The first argument is the size of the program.
burr_files() {
  folder BURR
  put "$(uf2 "${1:-30000}")" BURR/MILL.UF2
  put "$(text 'go\n')" BURR/START.LKT
}

# The same without the update file.
burr_card_without_file() {
  card 20M
  mbr 'start=2048, type=6'
  fat 16 8
  folder BURR
  put "$(text 'go\n')" BURR/START.LKT
}

# A card that the Burr takes: MBR, FAT16 with clusters of 4 KiB.
burr_card() {
  card 20M
  mbr 'start=2048, type=6'
  fat 16 8
  burr_files "$@"
}

# First cluster of a file; the place of FAT number N (0 or 1) on the medium; the place of a cluster's FAT16 entry in it.
first_cluster() { mshowfat -i "$image@@$volume_at" "::$1" | sed -n 's/[^<]*<\([0-9]*\)[-,>].*/\1/p'; }
fat_at() {
  local reserved fat_sectors
  reserved=$((0x$(peek $((volume_at + 14)) 1)))
  fat_sectors=$((0x$(peek $((volume_at + 23)) 1)$(peek $((volume_at + 22)) 1)))
  printf '%s' $((volume_at + (reserved + $1 * fat_sectors) * 512))
}
# Writes a FAT16 entry, two hexadecimal bytes in disk order, into both FATs.
entry() {
  poke $(($(fat_at 0) + $1 * 2)) "$2" "$3"
  poke $(($(fat_at 1) + $1 * 2)) "$2" "$3"
}

# Shortens a FAT16 volume to this many clusters by the total of sectors in its boot sector.
cut_to_clusters() {
  local per_cluster root_sectors fat_sectors reserved total hex
  per_cluster=$((0x$(peek $((volume_at + 13)) 1)))
  reserved=$((0x$(peek $((volume_at + 14)) 1)))
  root_sectors=$((0x$(peek $((volume_at + 18)) 1)$(peek $((volume_at + 17)) 1) / 16))
  fat_sectors=$((0x$(peek $((volume_at + 23)) 1)$(peek $((volume_at + 22)) 1)))
  total=$((reserved + 2 * fat_sectors + root_sectors + $1 * per_cluster))
  hex=$(printf '%04x' "$total")
  poke $((volume_at + 19)) "${hex:2:2}" "${hex:0:2}"
}
