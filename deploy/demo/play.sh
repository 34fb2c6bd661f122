#!/bin/sh
# Plays the demo season: the diary's lines, one cotyl each, in the order of their times, on the laptops of an invented house.
#
#   sh deploy/demo/play.sh WORK
#
# WORK is a folder with `manager.invitation` in it, as `cotyld new-house` prints it. The laptops come to be in WORK/laptops, and
# WORK/clock is the season's clock: start cotyld with COTYLEDGER_DEMO_CLOCK=WORK/clock. COTYL names the program.
#
# A diary line is   DAY TIME LAPTOP COMMAND...   # REMARK
# as one would type it after `cotyl`. A remark that starts with a code says which code the command must print.
# COTYLEDGER_DEMO_UNTIL=DAY plays what is before that day only.
# Laptops are offline except when they sync, join, invite or fetch.
set -eu

HERE=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
[ $# = 1 ] || { sed -n '2,13s/^# \{0,1\}//p' "$0" >&2; exit 2; }
WORK=$(CDPATH='' cd -- "$1" && pwd)
COTYL=${COTYL:-cotyl}
export WORK COTYLEDGER_DEMO_CLOCK="$WORK/clock"
unset COTYL_DIR || :
cd "$HERE"
export COTYL_CATALOGUE="$HERE/../catalogue"
(umask 077 && mkdir -p "$WORK/laptops")

fail() {
    printf 'the season stopped at\n  %s\n%s\n' "$1" "$2" >&2
    exit 1
}

# The clock is read at any moment by any of the programs, the server's user among them: never half written, and readable.
umask 022
set_clock() {
    printf '%s\n' "$1" >"$WORK/clock.new"
    mv "$WORK/clock.new" "$WORK/clock"
}

# A code at the start of the remark, else nothing.
expected_code() {
    case $1 in
    *'# '[A-Z]*-[0-9]*-[0-9A-Z]*)
        code=${1##*'# '}
        code=${code%%[ ,]*}
        ;;
    *) code= ;;
    esac
    case $code in
    [A-Z]*-[0-9][0-9][0-9][0-9]*-[0-9A-Z]) ;;
    *) code= ;;
    esac
}

played=0
play_line() {
    played=$((played + 1))
    set_clock "$1T$2:00Z"
    laptop=$3
    line=$4
    eval "set -- $line"
    export COTYLEDGER_DEMO_SEED="three sluices $played"
    said=$("$COTYL" --dir "$WORK/laptops/$laptop" "$@" 2>&1 </dev/null) || fail "$day $laptop $line" "$said"
    printf '%s %s %s\n%s\n' "$day" "$time" "$laptop $line" "$said" >>"$WORK/laptops/log"
    expected_code "$line"
    [ -n "$code" ] || return 0
    case $said in
    *"$code"*) ;;
    *) fail "$day $laptop $line" "expected the code $code, got: $said" ;;
    esac
}

last=$(date +%s)
for diary in diary/*.txt; do
    while read -r day time laptop line; do
        case $day in '#'* | '') continue ;; esac
        [ -z "${COTYLEDGER_DEMO_UNTIL:-}" ] || [ "$(echo "$day" | tr -d -)" -lt "$(echo "$COTYLEDGER_DEMO_UNTIL" | tr -d -)" ] || continue
        play_line "$day" "$time" "$laptop" "$line"
        if [ $(($(date +%s) - last)) -ge 5 ]; then
            printf 'season: %s, %s lines of the diary played\n' "$day" "$played" >&2
            last=$(date +%s)
        fi
    done <"$diary"
done
printf 'season: %s lines of the diary played\n' "$played" >&2
