# shellcheck shell=sh
# Running stages, counting tests, and leaving nothing behind. Sourced by run.sh.

PASSED=0
FAILED=0
JOB=
TIMES=

pass() { PASSED=$((PASSED + 1)); }
fail() {
    FAILED=$((FAILED + 1))
    say "FAILED: $*"
}

# stage NAME FUNCTION: the function counts its own passes and fails; how long it took is told at the end.
stage() {
    say "--- $1"
    stage_began=$(now)
    "$2"
    stage_took=$(($(now) - stage_began))
    TIMES="$TIMES$(printf '%6.1f min  %s' "$(minutes $stage_took)" "$1")
"
}

minutes() { awk "BEGIN { printf \"%.2f\", $1 / 60 }"; }

# in_job LOG COMMAND...: in a session of its own, so that all it starts can be ended together; says that it is alive.
in_job() {
    job_log=$1
    shift
    setsid "$@" >"$job_log" 2>&1 </dev/null &
    JOB=$!
    job_began=$(now)
    job_told=$job_began
    while kill -0 "$JOB" 2>/dev/null; do
        sleep 0.3
        [ $(($(now) - job_told)) -ge 20 ] || continue
        job_told=$(now)
        say "... $((job_told - job_began)) s"
    done
    job_status=0
    wait "$JOB" || job_status=$?
    JOB=
    return $job_status
}

end_job() {
    [ -n "$JOB" ] || return 0
    kill -TERM "-$JOB" 2>/dev/null || kill -TERM "$JOB" 2>/dev/null || :
    wait_gone "$JOB" 10 || :
    kill -KILL "-$JOB" 2>/dev/null || :
    JOB=
}

# Processes that were started from the scratch folder or work in it: their ids.
left_running() {
    for proc in /proc/[0-9]*; do
        pid=${proc#/proc/}
        [ "$pid" != $$ ] || continue
        case $(readlink "$proc/exe" 2>/dev/null) in "$SCRATCH"/*) echo "$pid"; continue ;; esac
        case $(readlink "$proc/cwd" 2>/dev/null) in "$SCRATCH"/*) echo "$pid" ;; esac
    done
}

cleanup() {
    status=$?
    trap - EXIT
    trap '' INT TERM HUP # a second one does not stop the cleaning up
    end_job
    if [ -n "${SCRATCH:-}" ] && [ -d "$SCRATCH" ]; then
        for pid in $(left_running); do kill -TERM "$pid" 2>/dev/null || :; done
        stop_databases
        for pid in $(left_running); do wait_gone "$pid" 5 || kill -KILL "$pid" 2>/dev/null || :; done
        remove_scratch
    fi
    exit $status
}

# A folder in the scratch folder through which the server's user may walk.
make_room() {
    mkdir -p "$1"
    chmod 0711 "$1"
}

report() {
    say ""
    printf '%s' "$TIMES" >&2
    printf '%d passed, %d failed\n' "$PASSED" "$FAILED"
    [ "$FAILED" = 0 ] || exit 1
}

# build NAME CC [CMAKE OPTION...]: sets BUILD. One test: it builds.
build() {
    BUILD=$SCRATCH/$1
    build_name=$1
    build_cc=$2
    shift 2
    make_room "$BUILD"
    if in_job "$BUILD.log" cmake -G Ninja -S "$ROOT" -B "$BUILD" -DCMAKE_C_COMPILER="$build_cc" "$@" &&
        in_job "$BUILD.log" cmake --build "$BUILD"; then
        pass
    else
        grep -E 'error|Error|FAILED' "$BUILD.log" | head -n 40 >&2 || :
        tail -n 15 "$BUILD.log" >&2
        fail "build $build_name"
        return 1
    fi
}

# run_ctest BUILD [CTEST OPTION...]: adds ctest's totals to ours, and shows what failed.
run_ctest() {
    ctest_build=$1
    shift
    ctest_status=0
    in_job "$ctest_build.ctest" "$@" || ctest_status=$?
    ctest_total=$(sed -n 's/.* tests passed, [0-9]* tests failed out of \([0-9]*\)$/\1/p' "$ctest_build.ctest" | tail -n 1)
    ctest_failed=$(sed -n 's/.* tests passed, \([0-9]*\) tests failed out of [0-9]*$/\1/p' "$ctest_build.ctest" | tail -n 1)
    if [ -z "$ctest_total" ]; then
        tail -n 20 "$ctest_build.ctest" >&2
        fail "ctest ran no test"
        return 0
    fi
    PASSED=$((PASSED + ctest_total - ctest_failed))
    FAILED=$((FAILED + ctest_failed))
    say "$((ctest_total - ctest_failed)) of $ctest_total passed"
    [ $ctest_status = 0 ] || sed -n '/Failed\|Timeout\|Exception\|\*\*\*/p;/:[EF]:/p;/ERROR: /p;/runtime error/p' "$ctest_build.ctest" | head -n 80 >&2
}
