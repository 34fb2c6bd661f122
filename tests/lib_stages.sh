# shellcheck shell=sh
# What each stage of run.sh does. Sourced by run.sh.

MAIN_SANITIZERS=address,undefined
export ASAN_OPTIONS="detect_leaks=1:abort_on_error=0:allocator_may_return_null=1:strict_string_checks=1"
export UBSAN_OPTIONS="print_stacktrace=1"
export TSAN_OPTIONS="halt_on_error=1:second_deadlock_stack=1"

stage_packages() { install_packages "$ROOT/deploy/packages.txt" "$ROOT/deploy/packages-tests.txt"; }

build_main() {
    build gcc-asan gcc -DCOT_TESTS=ON -DCOT_SANITIZE="$MAIN_SANITIZERS" || report
    MAIN=$BUILD
    probe_leaks
}

# LeakSanitizer looks at the process with ptrace, which some containers forbid. Then leaks are not looked for, and that is said.
probe_leaks() {
    printf '%s\n' '#include <stdlib.h>' 'int main(void) { char *volatile p = malloc(8); p = NULL; return p != NULL; }' >"$SCRATCH/leak.c"
    gcc -fsanitize=address -o "$SCRATCH/leak" "$SCRATCH/leak.c"
    if "$SCRATCH/leak" 2>&1 | grep -q 'detected memory leaks'; then return 0; fi
    say "LeakSanitizer does not work here (ptrace is forbidden): leaks are NOT looked for in this run"
    export ASAN_OPTIONS="detect_leaks=0:abort_on_error=0:allocator_may_return_null=1:strict_string_checks=1"
}

ctest_here() { # BUILD [ARGS...]
    here_build=$1
    shift
    run_ctest "$here_build" ctest --test-dir "$here_build" --output-on-failure --timeout 240 -j 2 "$@"
}

stage_ctest() { ctest_here "$MAIN" -LE long; }
stage_ctest_only() { ctest_here "$MAIN" -R "$ONLY"; }

# The demo season is a test: every code the diary names must come out, and laptop and server must say the same.
stage_season() {
    if in_job "$SCRATCH/season.log" sh "$ROOT/deploy/try.sh" --bin "$MAIN"; then
        tail -n 3 "$SCRATCH/season.log" >&2
        pass
    else
        tail -n 60 "$SCRATCH/season.log" >&2
        fail "season"
    fi
}

stage_tools() {
    for tool in clang clang-format gcovr setarch shellcheck; do
        if command -v "$tool" >/dev/null 2>&1; then pass; else fail "$tool is not there"; fi
    done
}

stage_clang() {
    build clang clang -DCOT_TESTS=ON || return 0
    ctest_here "$BUILD" -LE long -R '^(core|wire|reference|arch)/' -E same_bytes # which builds by itself, with both
}

# Address space layout randomisation and TSan of these compilers do not go together: setarch -R switches it off.
stage_tsan() {
    if ! setarch -R true 2>/dev/null; then
        fail "setarch -R is forbidden here, so TSan cannot run"
        return 0
    fi
    build tsan gcc -DCOT_TESTS=ON -DCOT_SANITIZE=thread || return 0
    run_ctest "$BUILD" setarch -R ctest --test-dir "$BUILD" --output-on-failure --timeout 240 -j 2 -LE long -R '^(server|http|store)/'
}

# The client must build where neither libpq nor libmicrohttpd is installed: pkg-config sees a folder with the others only.
stage_client_alone() {
    mkdir -p "$SCRATCH/pc"
    for dir in $(pkg-config --variable pc_path pkg-config | tr ':' ' '); do
        [ -d "$dir" ] || continue
        for pc in "$dir"/*.pc; do
            case $pc in
            *'/*.pc' | */libpq.pc | */libmicrohttpd.pc) ;;
            *) ln -sf "$pc" "$SCRATCH/pc/" ;;
            esac
        done
    done
    if PKG_CONFIG_LIBDIR=$SCRATCH/pc pkg-config --exists libpq || PKG_CONFIG_LIBDIR=$SCRATCH/pc pkg-config --exists libmicrohttpd; then
        fail "pkg-config still finds the server's libraries"
        return 0
    fi
    export PKG_CONFIG_LIBDIR="$SCRATCH/pc"
    build client-only gcc -DCOT_SERVER=OFF -DCOT_TESTS=ON || { unset PKG_CONFIG_LIBDIR; return 0; }
    unset PKG_CONFIG_LIBDIR
    ctest_here "$BUILD" -LE long -R '^(client|arch)/' # the shared rooms are tested in the stages before
    client=$(find "$BUILD" -type f -name cotyl -perm -u+x | head -n 1)
    if [ -n "$client" ] && ! ldd "$client" | grep -E 'libpq|libmicrohttpd' >&2; then pass; else fail "the client links the server's libraries"; fi
}

stage_coverage() {
    build coverage gcc -DCOT_TESTS=ON -DCOT_COVERAGE=ON -DCMAKE_BUILD_TYPE=Debug -DCOT_SERVER=OFF || return 0
    COT_TEST_GRID=16 ctest_here "$BUILD" -LE long -R '^(core|wire|reference)/' -E same_bytes
    for room in core wire; do
        lines=$(gcovr --root "$ROOT" --object-directory "$BUILD" --filter "$ROOT/server/$room/" --print-summary 2>/dev/null |
            sed -n 's/^lines: //p')
        say "coverage of server/$room by lines: ${lines:-unknown}"
        if [ -n "$lines" ]; then pass; else fail "gcovr says nothing of $room"; fi
    done
}

stage_format() {
    find "$ROOT/server" "$ROOT/client" "$ROOT/include" "$ROOT/tests" -name '*.[ch]' >"$SCRATCH/c-files"
    if (cd "$ROOT" && xargs clang-format --dry-run -Werror <"$SCRATCH/c-files" >"$SCRATCH/format.log" 2>&1); then
        pass
    else
        sed -n 's/:.*clang-format-violations.*//p' "$SCRATCH/format.log" | sort | uniq -c | head -n 40 >&2
        fail "format: run clang-format -i on the files above"
    fi
    find "$ROOT/deploy" "$ROOT/tests" "$ROOT/.ci" -name '*.sh' -o -path '*/.ci/run' >"$SCRATCH/scripts"
    if xargs shellcheck -x -P SCRIPTDIR <"$SCRATCH/scripts" >"$SCRATCH/shellcheck.log" 2>&1; then
        pass
    else
        head -n 40 "$SCRATCH/shellcheck.log" >&2
        fail "shellcheck"
    fi
}

# A short walk of each fuzzer from the test vectors and the demo's sheets; a finding is printed in base64, with the seed.
FUZZ_SECONDS=12
stage_fuzz() {
    build fuzz clang -DCOT_SERVER=OFF -DCOT_CLIENT=OFF -DCOT_FUZZ=ON -DCOT_SANITIZE=fuzzer-no-link,address,undefined || return 0
    mkdir -p "$SCRATCH/seeds"
    cp "$HERE"/vectors/*/*/* "$ROOT"/deploy/demo/*.csv "$ROOT"/deploy/demo/orders/*.csv "$SCRATCH/seeds/" 2>/dev/null || :
    fuzz_seed=${COT_TEST_SEED:-$(($(now) % 1000000 + 1))}
    say "seed $fuzz_seed"
    for fuzzer in "$BUILD"/tests/fuzz/fuzz_*; do
        if [ -f "$fuzzer" ] && [ -x "$fuzzer" ]; then fuzz_one "$fuzzer"; fi
    done
}

fuzz_one() {
    name=$(basename "$1")
    mkdir -p "$SCRATCH/corpus/$name"
    if in_job "$SCRATCH/$name.log" "$1" -seed="$fuzz_seed" -max_total_time=$FUZZ_SECONDS -max_len=20000 -timeout=10 -rss_limit_mb=1500 \
        -artifact_prefix="$SCRATCH/$name." "$SCRATCH/corpus/$name" "$SCRATCH/seeds"; then
        say "$name: $(sed -n 's/^Done \([0-9]*\) runs.*/\1 runs/p' "$SCRATCH/$name.log")"
        pass
    else
        tail -n 40 "$SCRATCH/$name.log" >&2
        fail "$name"
    fi
}

stage_long() {
    build_long=${MAIN:-}
    ctest_here "$build_long" -L long
    if in_job "$SCRATCH/planned.log" sh "$ROOT/deploy/try.sh" --plan --bin "$build_long"; then
        pass
    else
        tail -n 40 "$SCRATCH/planned.log" >&2
        fail "the planned season"
    fi
}

stage_nothing_left() {
    left=$(left_running)
    if [ -z "$left" ]; then pass; return 0; fi
    for pid in $left; do say "still running: $pid $(tr '\0' ' ' <"/proc/$pid/cmdline" 2>/dev/null)"; done
    fail "processes are left"
}
