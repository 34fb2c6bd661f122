#!/bin/sh
# The one door to the tests.
#
#   sh tests/run.sh              gcc with ASan and UBSan: all tests, and the demo season
#   sh tests/run.sh --only NAME  the tests whose name matches; or one of season, clang, tsan, client-only, coverage, format, fuzz
#   sh tests/run.sh --ci         and clang, TSan, the client alone, coverage, format, fuzzing
#   sh tests/run.sh --long       and the long ones
#
# Installs what deploy/packages.txt and deploy/packages-tests.txt name when it is missing. Builds outside the tree, in one scratch
# folder that is gone at the end, with everything that was started. Last line: `N passed, N failed`.
set -eu

HERE=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
ROOT=$(dirname "$HERE")
# shellcheck source=../deploy/lib.sh
. "$ROOT/deploy/lib.sh"
# shellcheck source=lib.sh
. "$HERE/lib.sh"
# shellcheck source=lib_stages.sh
. "$HERE/lib_stages.sh"

MODE=default
ONLY=

while [ $# -gt 0 ]; do
    case $1 in
    --ci) MODE=ci ;;
    --long) MODE=long ;;
    --only)
        [ $# -ge 2 ] || die "--only wants a name"
        ONLY=$2
        shift
        ;;
    --help | -h) sed -n '2,10s/^# \{0,1\}//p' "$0"; exit 0 ;;
    *) die "no such option: $1" ;;
    esac
    shift
done

trap cleanup EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP

every_time() {
    stage "build (gcc, ASan, UBSan)" build_main
    stage "tests (ASan, UBSan)" stage_ctest
    stage season stage_season
}

# What --ci adds, by name.
extra() {
    case $1 in
    clang) stage "clang" stage_clang ;;
    tsan) stage "thread sanitizer" stage_tsan ;;
    client-only) stage "client alone" stage_client_alone ;;
    coverage) stage "coverage" stage_coverage ;;
    format) stage "format" stage_format ;;
    fuzz) stage "fuzzing" stage_fuzz ;;
    esac
}

main() {
    stage packages stage_packages
    make_scratch test
    # Tests that play the server's user for a moment keep root's groups: here anybody may walk through, none may look.
    [ "$(id -u)" != 0 ] || chmod 0711 "$SCRATCH"
    make_room "$SCRATCH/tmp"
    export TMPDIR="$SCRATCH/tmp"
    case $ONLY in
    '') every_time ;;
    season) stage "build (gcc, ASan, UBSan)" build_main && stage season stage_season ;;
    clang | tsan | client-only | coverage | format | fuzz) extra "$ONLY" ;;
    *) stage "build (gcc, ASan, UBSan)" build_main && stage "tests named $ONLY" stage_ctest_only ;;
    esac
    if [ $MODE = ci ] && [ -z "$ONLY" ]; then
        stage "tools" stage_tools
        for name in clang tsan client-only coverage format fuzz; do extra "$name"; done
    fi
    [ $MODE != long ] || stage "long tests" stage_long
    stage "nothing left" stage_nothing_left
    report
}
main
