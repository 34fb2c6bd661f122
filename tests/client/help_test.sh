#!/bin/sh
# Claims about help, completion and exit codes that hold for every command of the table.
#
#   sh tests/client/help_test.sh COTYL
set -eu
COTYL=$1
WORK=$(mktemp -d /tmp/cotyl-help-XXXXXX)
trap 'rm -rf "$WORK"' EXIT
export COTYL_DIR="$WORK/none"
failed=0
bad() {
    printf 'FAILED: %s\n' "$*"
    failed=1
}

"$COTYL" --help >"$WORK/help"
commands=$(sed -n 's/^  \([a-z][a-z-]*\)  *[a-z].*/\1/p' "$WORK/help")
[ "$(printf '%s\n' "$commands" | wc -l)" -ge 40 ] || bad "fewer commands than the table has"

for command in $commands; do
    "$COTYL" "$command" --help >"$WORK/one" || bad "$command --help"
    head -n 1 "$WORK/one" | grep -q "^usage: cotyl $command" || bad "$command: the first line is no usage"
    [ "$(wc -l <"$WORK/one")" -ge 3 ] || bad "$command: no help"
    awk 'length($0) > 80 { print; e = 1 } END { exit e }' "$WORK/one" || bad "$command: lines over 80 columns"
done
awk 'length($0) > 80 { print; e = 1 } END { exit e }' "$WORK/help" || bad "help: lines over 80 columns"

"$COTYL" completion >"$WORK/completion"
for command in $commands; do
    grep -q "^  $command) words" "$WORK/completion" || bad "$command: no completion"
done
if command -v bash >/dev/null; then
    bash -n "$WORK/completion" || bad "completion is no bash"
    # shellcheck disable=SC2016
    got=$(bash -c '. "$1"; COMP_WORDS=(cotyl sow --tra); COMP_CWORD=2; _cotyl; echo "${COMPREPLY[@]}"' bash "$WORK/completion")
    [ "$got" = --trays ] || bad "completion of 'sow --tra' is '$got'"
    # shellcheck disable=SC2016
    got=$(bash -c '. "$1"; COMP_WORDS=(cotyl --dir x stat); COMP_CWORD=3; _cotyl; echo "${COMPREPLY[@]}"' bash "$WORK/completion")
    [ "$got" = status ] || bad "completion of 'stat' is '$got'"
fi

expect() {
    want=$1
    shift
    code=0
    "$COTYL" "$@" >"$WORK/out" 2>"$WORK/err" </dev/null || code=$?
    [ "$code" = "$want" ] || bad "cotyl $*: exit $code, not $want: $(cat "$WORK/err")"
}
expect 0 --version
expect 2
expect 2 nonsense
grep -q 'no command "nonsense"' "$WORK/err" || bad "an unknown command is not named"
expect 2 staus
grep -q 'did you mean status' "$WORK/err" || bad "the nearest command is not named"
expect 4 status
grep -q 'has not joined' "$WORK/err" || bad "a laptop that has not joined is not told so"
expect 4 --json status
grep -q '"type":"urn:cotyledger:problem:not_found"' "$WORK/err" || bad "with --json an error is no problem document"
[ ! -s "$WORK/out" ] || bad "with --json an error puts something on standard output"
expect 2 join --invitation
expect 2 --dir
[ ! -e "$WORK/none" ] || bad "a command that did nothing made a folder"
code=0
"$COTYL" --version >/dev/full 2>/dev/null || code=$?
[ "$code" != 0 ] || bad "a full disk under standard output goes unnoticed"
exit $failed
