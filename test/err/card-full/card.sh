# board: burr
# change: needsFreeClusters: any => needsFreeClusters: 2
# set: panel=none
. "$(dirname "$0")/../../support/card-tools.sh"
# Clusters in all: what is free now is filled up to LEFT clusters before the end.
fill() {
  local free
  free=$(mdir -i "$image@@$volume_at" :: | tr -d " " | sed -n "s/^\([0-9]*\)bytesfree$/\1/p")
  put "$(bytes $((free - $1 * 4096)))" PLANS.DAT
}
card 20M
mbr "start=2048, type=6"
fat 16 8
folder BURR
put "$(text 'go\n')" BURR/START.LKT
put "$(uf2 30000)" BURR/MILL.UF2
fill 1
