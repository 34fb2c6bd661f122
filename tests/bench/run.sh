#!/bin/sh
# Measures; never part of a test.
#
#   sh tests/bench/run.sh            names what there is
#   sh tests/bench/run.sh NAME...    builds with optimisation and runs them, or `all`
#
# A bench is a file tests/bench/NAME.sh. It is run with BUILD (both programs and the bench programs), ROOT and SCRATCH in its
# environment, and prints lines `name value unit` on standard output and nothing else there.
set -eu

HERE=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
ROOT=$(dirname "$(dirname "$HERE")")
# shellcheck source=../../deploy/lib.sh
. "$ROOT/deploy/lib.sh"
# shellcheck source=../lib.sh
. "$HERE/../lib.sh"

names() {
    for file in "$HERE"/*.sh; do
        name=$(basename "$file" .sh)
        [ "$name" = run ] || echo "$name"
    done
}

# A line of a bench is a name, a number and a unit.
check_lines() {
    awk 'NF != 3 || $2 !~ /^-?[0-9.]+(e-?[0-9]+)?$/ { print "not `name value unit`: " $0 > "/dev/stderr"; bad = 1; next }
         { print; fflush() } END { exit bad }'
}

[ $# -gt 0 ] || { names; exit 0; }
# shellcheck disable=SC2046 # names have no blanks
[ "$1" != all ] || set -- $(names)
for name in "$@"; do
    if [ ! -f "$HERE/$name.sh" ] || [ "$name" = run ]; then die "no such bench: $name (there are: $(names | tr '\n' ' '))"; fi
done

trap cleanup EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP
install_packages "$ROOT/deploy/packages.txt" "$ROOT/deploy/packages-tests.txt"
make_scratch bench
make_room "$SCRATCH/tmp"
export TMPDIR="$SCRATCH/tmp"
build build gcc -DCOT_TESTS=ON -DCMAKE_BUILD_TYPE=Release || die "it does not build"
export BUILD ROOT SCRATCH
for name in "$@"; do
    say "--- $name"
    setsid sh "$HERE/$name.sh" </dev/null >"$SCRATCH/bench.out" &
    JOB=$!
    wait "$JOB" || die "$name failed"
    JOB=
    check_lines <"$SCRATCH/bench.out" || die "$name prints other lines than name, value, unit"
done
