#!/bin/sh
# symbols_catches.sh NM AR CC: symbols.sh names a clock in the core, and a socket and a file in the wire.
set -eu
nm=$1 ar=$2 cc=$3
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
cd "$dir"

archive() { # NAME SOURCE
    printf '%s\n' "$2" >"$1.c"
    "$cc" -c -o "$1.o" "$1.c"
    "$ar" rcs "$1.a" "$1.o"
}
archive sound '#include <string.h>
size_t cot_a(const char *s); size_t cot_a(const char *s) { return strlen(s); }'
archive clock '#include <time.h>
long cot_b(void); long cot_b(void) { return (long)time(0); }'
archive door '#include <stdio.h>
#include <sys/socket.h>
int cot_c(void); int cot_c(void) { return socket(1, 1, 1) + (fopen("x", "r") != 0); }'

sh "$here/symbols.sh" "$nm" sound.a sound.a || { echo "sound archives are refused"; exit 1; }
sh "$here/symbols.sh" "$nm" clock.a sound.a >said && { echo "let pass: a clock in the core"; exit 1; }
grep -qx 'cot_core asks for time' said
sh "$here/symbols.sh" "$nm" sound.a door.a >said && { echo "let pass: a socket in the wire"; exit 1; }
grep -qx 'cot_wire asks for socket' said
grep -qx 'cot_wire asks for fopen' said
