#!/bin/sh
# Two compilers, without and with optimisation, print the same figures for the same random seasons: COT_SAME_BYTES of them.
set -eu
HERE=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
ROOT=$(dirname "$(dirname "$(dirname "$HERE")")")
export COT_SAME_BYTES="${COT_SAME_BYTES:-200}" CK_FORK=no
DIR=$(mktemp -d)
trap 'rm -rf "$DIR"' EXIT
FLAGS="-std=c17 -D_GNU_SOURCE -ffp-contract=off -fno-strict-aliasing"
SOURCES=$(find "$ROOT/server/core" -name '*.c' | LC_ALL=C sort)
FIRST=
for build in "gcc -O0" "gcc -O3" "clang -O0" "clang -O3"; do
    command -v "${build%% *}" >/dev/null || { echo "no ${build%% *} here" >&2; exit 1; }
    # shellcheck disable=SC2086,SC2046 # words on purpose
    $build $FLAGS -I"$ROOT/include" -I"$ROOT/server/core" -DCOT_TESTS_DIR='""' $SOURCES "$HERE/same_bytes.c" "$ROOT/tests/main.c" -o "$DIR/p" $(pkg-config --cflags --libs check) -lm
    "$DIR/p" >"$DIR/out" || { cat "$DIR/out" >&2; exit 1; }
    figures=$(grep seasons: "$DIR/out")
    echo "$build: $figures"
    [ "${FIRST:=$figures}" = "$figures" ] || { echo "the builds print different figures" >&2; exit 1; }
done
