#!/bin/sh
# Measures; never part of a test.
#
#   sh tests/bench/run.sh            names what there is
#   sh tests/bench/run.sh NAME...    builds as a release is built and runs them, or `all`
#   sh tests/bench/run.sh --bin DIR NAME...   with the programs already built in DIR (-DCOT_BENCH=ON)
#
# A bench is a file tests/bench/NAME.c. Standard output gets rows `name value unit` and nothing else (calibration:
# `calibration/DESIGN stated held distance-ratio` beside them); what goes on is said on
# standard error. *_bare is a program of floor/ that does the unavoidable part only, measured in turn with ours; *_ratio is made
# of the two. Everything is in one scratch folder that is gone at the end, with everything that was started.
#
#   COT_BENCH_LARGE=1    the large sizes (pull: 100,000 entries; calibration: 20,000 batches a design)
#   COT_BENCH_ENTRIES=N  entries of ingest, pull and fold
#   COT_BENCH_RUNS=N     runs of what is one process or one request
#   COT_BENCH_SEASON=DIR the scratch folder of a season that was played before (deploy/try.sh --stay)
set -eu

HERE=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
ROOT=$(dirname "$(dirname "$HERE")")
# shellcheck source=../../deploy/lib.sh
. "$ROOT/deploy/lib.sh"
# shellcheck source=../lib.sh
. "$HERE/../lib.sh"
# shellcheck source=season.sh
. "$HERE/season.sh"

# The demo season is played once for all that measure on it.
SEASONED=" fill fold ingest one pull record size "

names() {
    for file in "$HERE"/*.c; do basename "$file" .c; done
}

# A line of a bench is a name, a number and a unit; of `calibration` a design, what was stated, what held, and a ratio.
check_lines() {
    awk 'function figure(x) { return x ~ /^-?[0-9.]+(e-?[0-9]+)?$/ }
         $1 ~ /^calibration\// && NF == 4 && figure($2) && figure($3) && figure($4) { print; fflush(); next }
         NF != 3 || !figure($2) { print "not `name value unit`: " $0 > "/dev/stderr"; bad = 1; next }
         { print; fflush() } END { exit bad }'
}

run_one() {
    name=$1
    case $SEASONED in *" $name "*) have_season ;; esac
    say "--- $name"
    make_room "$SCRATCH/$name"
    SCRATCH="$SCRATCH/$name" setsid "$BUILD/tests/bench/bench_$name" </dev/null >"$SCRATCH/bench.out" &
    JOB=$!
    wait "$JOB" || die "$name failed"
    JOB=
    check_lines <"$SCRATCH/bench.out" || die "$name prints other lines than name, value, unit"
    rm -rf "${SCRATCH:?}/$name"
}

BUILD=
if [ "${1:-}" = --bin ]; then
    [ $# -ge 2 ] || die "--bin wants a folder"
    BUILD=$(CDPATH='' cd -- "$2" && pwd)
    shift 2
fi
case ${1:-} in
--help | -h) sed -n '2,18s/^# \{0,1\}//p' "$0"; exit 0 ;;
'') names; exit 0 ;;
all)
    # shellcheck disable=SC2046 # names have no blanks
    set -- $(names)
    ;;
esac
for name in "$@"; do
    [ -f "$HERE/$name.c" ] || die "no such bench: $name (there are: $(names | tr '\n' ' '))"
done

trap cleanup EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP
install_packages "$ROOT/deploy/packages.txt" "$ROOT/deploy/packages-tests.txt"
make_scratch bench
make_room "$SCRATCH/tmp"
export TMPDIR="$SCRATCH/tmp"
[ -n "$BUILD" ] || build build gcc -DCOT_BENCH=ON -DCMAKE_BUILD_TYPE=RelWithDebInfo || die "it does not build"
unset COTYL_DIR COTYLEDGER_DEMO_CLOCK COTYLEDGER_DEMO_SEED || :
for name in "$@"; do run_one "$name"; done
