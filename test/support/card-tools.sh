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
#   linked BASE [STACK SIZE TEXT] links a real program at an address, prints the name of its plain bytes
#   with_crc FILE                 appends the checksum that the Tansy wants
#   tansy_card FILE               a whole card; so do clinker_card, burr_card_with
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

# ---- the sample release of the Tansy ------------------------------------------------------------------------

# Path of a file of the release: release_file builds/TANSY-065N.LKF
release_file() { printf '%s' "$here/../../samples/releases/tansy-31/$1"; }

# A card for the Tansy with FILE as the update file: MBR, FAT32 with clusters of 512 bytes, and the flag file.
tansy_card_with() {
  card 36M
  mbr 'start=2048, type=c'
  fat 32 1
  put "$1" TANSY.LKF
  put "$(release_file LARKGO.TXT)" LARKGO.TXT
}

# The same with a build of the release, named without folder and ending: tansy_release_card TANSY-065N
tansy_release_card() { tansy_card_with "$(release_file "builds/$1.LKF")"; }

# A copy of FILE in which every OLD text is NEW (of the same length), with the checksum at its end made right again;
# prints its name.
retext() { node "$here/retext.mjs" "$1" "$work/retext" "$2" "$3" && printf '%s' "$work/retext"; }

# ---- firmware images ----------------------------------------------------------------------------------------

# A real program for a Cortex-M3 or M4, linked at BASE with its stack beginning at STACK; prints the name of its plain
# bytes. TAIL is a text that the program holds, SIZE the length to which it is filled up with FF.
linked() {
  local base=$1 stack=${2:-0x20020000} size=${3:-0} tail=${4:-LKF-TEST} name
  name="$work/linked-$base-$stack-$size"
  printf '%s\n' "const char tail[] __attribute__((used)) = \"$tail\";" \
    'extern unsigned stack; volatile unsigned counter = 7;' \
    'void reset(void) { for (;;) counter += 3; }' \
    'void fault(void) { for (;;) ; }' \
    '__attribute__((section(".vectors"), used)) const void *const vectors[16] = {' \
    '  &stack, reset, fault, fault, fault, fault, fault, 0, 0, 0, 0, fault, fault, 0, fault, fault };' >"$name.c"
  printf '%s\n' "MEMORY { FLASH (rx) : ORIGIN = $base, LENGTH = 1M  SRAM (rwx) : ORIGIN = 0x20000000, LENGTH = 64K }" \
    "stack = $stack;" \
    'SECTIONS { .text : { KEEP(*(.vectors)) *(.text*) *(.rodata*) . = ALIGN(8); } > FLASH' \
    '  .data : { *(.data*) . = ALIGN(8); } > SRAM AT > FLASH .bss : { *(.bss*) } > SRAM' \
    '  /DISCARD/ : { *(.ARM.*) *(.comment) } }' >"$name.ld"
  arm-none-eabi-gcc -mcpu=cortex-m3 -mthumb -Os -nostdlib -Wl,--build-id=none -Wl,-e,reset \
    -T "$name.ld" "$name.c" -o "$name.elf"
  arm-none-eabi-objcopy -O binary "$name.elf" "$name"
  [ "$size" = 0 ] || filled "$name" "$size"
  printf '%s' "$name"
}
# Fills a file up with FF to a size.
filled() { srec_cat "$1" -binary -fill 0xFF 0 "$2" -o "$1.filled" -binary && mv "$1.filled" "$1"; }
# Appends the CRC-32 that the Tansy wants (srec_cat computes it); prints the name of the new file.
with_crc() {
  srec_cat "$1" -binary -crc32-l-e "$(stat -c %s "$1")" -o "$1.crc" -binary
  printf '%s' "$1.crc"
}
# Writes bytes at a place of a file.
patch() {
  local file=$1 offset=$2
  shift 2
  printf '%b' "$(printf '\\x%s' "$@")" | dd of="$file" bs=1 seek="$offset" conv=notrunc status=none
}
# A 32-bit number as four bytes in the order of the memory.
little() {
  local hex
  hex=$(printf '%08x' "$1")
  printf '%s %s %s %s' "${hex:6:2}" "${hex:4:2}" "${hex:2:2}" "${hex:0:2}"
}
# Puts the number into the eighth word that makes the first eight words sum to zero.
with_word_sum() {
  local words sum=0 word
  words=$(od -An -v -tu4 -N28 "$1")
  for word in $words; do sum=$(((sum + word) & 0xFFFFFFFF)); done
  # shellcheck disable=SC2046
  patch "$1" 28 $(little $(((0x100000000 - sum) & 0xFFFFFFFF)))
}

# A card that the Tansy takes, with this file as the update file.
tansy_card() {
  card 36M
  mbr 'start=2048, type=c'
  fat 32 1
  put "$1" TANSY.LKF
  put "$(text 'start=yes\n')" LARKGO.TXT
}

# A card that revision A of the Clinker takes: no partition table is needed, clusters of 2 KiB; Intel HEX of plain
# bytes at an address, or, with one argument, a finished file.
clinker_card() {
  card 20M
  mbr 'start=2048, type=6'
  fat 16 4
  if [ $# -gt 1 ]; then
    srec_cat "$1" -binary -offset "$2" -o "$work/hex" -intel
  else
    cp "$1" "$work/hex"
  fi
  put "$work/hex" CLINKER.HEX
  put "$(bytes 4096)" CONES.TAB
}

# A card that the Burr takes, with this file as the update file.
burr_card_with() {
  burr_card_without_file
  put "$1" BURR/MILL.UF2
}
# UF2 of a file's bytes from an address on (both as hexadecimal digits), for a family.
uf2_of() {
  node "$here/make-uf2.mjs" "$1" "$1.uf2" "${2:-10000}" "${3:-C47E5767}"
  printf '%s' "$1.uf2"
}
# An ESP image with one segment of COUNT bytes, for a chip; prints its name.
esp() {
  node "$here/make-esp.mjs" "$(bytes "$1")" "$work/esp-$1-$2" "$2"
  printf '%s' "$work/esp-$1-$2"
}

# rename_raw FOLDER OLD NEW LONG: any short and long name for an entry; see rename-raw.mjs.
rename_raw() { node "$here/rename-raw.mjs" "$image" "$@"; }
