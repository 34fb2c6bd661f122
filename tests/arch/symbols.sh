#!/bin/sh
# symbols.sh NM CORE.a WIRE.a: what the shared rooms leave undefined. cot_core: what core_symbols.txt names and nothing else;
# cot_wire: no database, no HTTP, no sockets, no files. Prints what is out of place; exit 1 if any.
set -eu
nm=$1 core=$2 wire=$3
list=$(dirname "$0")/core_symbols.txt
here=$(mktemp -d)
trap 'rm -rf "$here"' EXIT

# Undefined in some object of the archive and defined in none.
open_symbols() {
    "$nm" -u -P "$1" | awk '$2 == "U" || $2 == "w" { print $1 }' | sort -u >"$here/used"
    "$nm" --defined-only -P "$1" | awk 'NF >= 2 && $2 != "U" { print $1 }' | sort -u >"$here/own"
    # What sanitizers, coverage and fortified builds put in by themselves.
    comm -23 "$here/used" "$here/own" | grep -Ev '^(__asan_|__ubsan_|__tsan_|__sanitizer_|__gcov|__llvm_|_GLOBAL_OFFSET_TABLE_)' || true
}

bad=0
open_symbols "$core" >"$here/core"
[ -s "$here/core" ] || { echo "no symbols read from $core"; exit 1; }
grep -v '^#' "$list" | awk 'NF { print $1 }' | sort -u >"$here/allowed"
for symbol in $(comm -23 "$here/core" "$here/allowed"); do
    echo "cot_core asks for $symbol"
    bad=1
done
open_symbols "$wire" >"$here/wire"
# shellcheck disable=SC2013 # symbols have no blanks
for symbol in $(grep -E '^(PQ|MHD_|sqlite3_|curl_|socket$|connect$|bind$|accept|send$|recv$|open$|open64$|fopen|fopen64$|unlink$|system$|fork$|exec|getenv$|setlocale$|time$|clock_gettime$|gettimeofday$)' "$here/wire"); do
    echo "cot_wire asks for $symbol"
    bad=1
done
exit $bad
