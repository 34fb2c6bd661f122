#!/bin/sh
# The one door to the tests.
#
#   sh tests/run.sh              gcc with ASan and UBSan: all tests, and the demo season
#   sh tests/run.sh --only NAME  the tests whose name matches (`season` for the demo season)
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

main() {
    stage packages stage_packages
    make_scratch test
    make_room "$SCRATCH/tmp"
    export TMPDIR="$SCRATCH/tmp"
    if [ -n "$ONLY" ]; then
        stage "build (gcc, ASan, UBSan)" build_main
        if [ "$ONLY" = season ]; then stage season stage_season; else stage "tests named $ONLY" stage_ctest_only; fi
    else
        stage "build (gcc, ASan, UBSan)" build_main
        stage "tests (ASan, UBSan)" stage_ctest
        stage season stage_season
    fi
    if [ $MODE = ci ]; then
        stage "tools" stage_tools
        stage "clang" stage_clang
        stage "thread sanitizer" stage_tsan
        stage "client alone" stage_client_alone
        stage "coverage" stage_coverage
        stage "format" stage_format
        stage "fuzzing" stage_fuzz
    fi
    [ $MODE != long ] || stage "long tests" stage_long
    stage "nothing left" stage_nothing_left
    report
}
main
