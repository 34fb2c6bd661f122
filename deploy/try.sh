#!/bin/sh
# Shows what Cotyledger does: builds it, starts a server with a private PostgreSQL, plays the spring of an invented house, prints
# every farm's fill report, and checks that the laptop and the server say the same.
#
#   sh deploy/try.sh            nothing is left behind
#   sh deploy/try.sh --stay     leaves it running and says how to go on by hand
#   sh deploy/try.sh --plan     the spring as it was planned from the order book, day by day by the list on the wall
#   sh deploy/try.sh --bin DIR  plays with the programs already built in DIR instead of building
#
# Debian 12; as root, or as a user who may use sudo if packages are missing. All files live in one scratch folder in /tmp.
set -eu

HERE=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
ROOT=$(dirname "$HERE")
# shellcheck source=deploy/lib.sh
. "$HERE/lib.sh"

STAY=no
PLAN=no
BIN=
SERVER_PID=
JOB=

usage() { sed -n '2,11s/^# \{0,1\}//p' "$0"; }

while [ $# -gt 0 ]; do
    case $1 in
    --stay) STAY=yes ;;
    --plan) PLAN=yes ;;
    --bin)
        [ $# -ge 2 ] || die "--bin wants a folder"
        BIN=$(CDPATH='' cd -- "$2" && pwd)
        shift
        ;;
    --help | -h) usage; exit 0 ;;
    *) usage >&2; die "no such option: $1" ;;
    esac
    shift
done

cleanup() {
    status=$?
    trap - EXIT
    trap '' INT TERM HUP # a second one does not stop the cleaning up
    [ -z "$JOB" ] || stop_pid "$JOB"
    [ -z "$SERVER_PID" ] || stop_pid "$SERVER_PID"
    if [ $status != 0 ] && [ -n "${SCRATCH:-}" ] && [ -s "$SCRATCH/server.log" ]; then
        say "the server's last words:"
        tail -n 20 "$SCRATCH/server.log" >&2
    fi
    remove_scratch
    exit $status
}
trap cleanup EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP

# quietly LABEL COMMAND...: runs it with a progress line every few seconds; its output only when it fails.
quietly() {
    label=$1
    shift
    "$@" >"$SCRATCH/step.log" 2>&1 </dev/null &
    JOB=$!
    began=$(now)
    told=$began
    while kill -0 "$JOB" 2>/dev/null; do
        sleep 0.2
        [ $(($(now) - told)) -ge 5 ] || continue
        told=$(now)
        say "$label ... $((told - began)) s"
    done
    if wait "$JOB"; then JOB=; return 0; fi
    JOB=
    tail -n 60 "$SCRATCH/step.log" >&2
    die "$label: failed"
}

build() {
    quietly "configuring" cmake -G Ninja -S "$ROOT" -B "$SCRATCH/build" -DCMAKE_BUILD_TYPE=RelWithDebInfo \
        -DCMAKE_INSTALL_PREFIX="$SCRATCH/usr"
    quietly "building" cmake --build "$SCRATCH/build"
    BIN=$SCRATCH/build
}

# The two programs, wherever the build put them.
find_programs() {
    COTYLD=$(find "$BIN" -type f -name cotyld -perm -u+x | head -n 1)
    COTYL=$(find "$BIN" -type f -name cotyl -perm -u+x | head -n 1)
    if [ -z "$COTYLD" ] || [ -z "$COTYL" ]; then die "cotyld and cotyl are not in $BIN"; fi
    export COTYL
}

cotyld() { (cd / && COTYLEDGER_DEMO_SEED="three sluices" "$COTYLD" --data "$SCRATCH/server" --user "$(server_user)" --url "$URL" "$@"); }

start_server() {
    printf '2026-12-01T07:00:00Z\n' >"$SCRATCH/clock"
    chmod 0644 "$SCRATCH/clock"
    export COTYLEDGER_DEMO_CLOCK="$SCRATCH/clock"
    tries=0
    while :; do
        tries=$((tries + 1))
        # A port that is free: drawn by process number and time, tried again when somebody has it.
        PORT=$((20000 + ($$ * 7 + $(now) + tries * 977) % 40000))
        URL=http://127.0.0.1:$PORT
        launch_server
        wait_ready && return 0
        [ $tries -lt 5 ] || die "the server does not start"
    done
}

launch_server() {
    COTYLEDGER_DEMO_SEED="three sluices" setsid "$COTYLD" --data "$SCRATCH/server" --user "$(server_user)" \
        --listen "127.0.0.1:$PORT" --url "$URL" serve >>"$SCRATCH/server.log" 2>&1 </dev/null &
    SERVER_PID=$!
}

# Ready, or ended because the port was taken (false).
wait_ready() {
    waited=0
    until curl -fsS "$URL/readyz" >/dev/null 2>&1; do
        if ! kill -0 "$SERVER_PID" 2>/dev/null; then
            SERVER_PID=
            grep -q 'in use' "$SCRATCH/server.log" || die "the server ended at once"
            return 1
        fi
        waited=$((waited + 1))
        [ $((waited % 20)) != 0 ] || say "starting the server ... $((waited / 10)) s"
        [ $waited -lt 600 ] || die "the server is not ready after a minute"
        sleep 0.1
    done
}

make_house() {
    cotyld new-house "Three Sluices" --manager "Wren" >"$SCRATCH/manager.invitation" 2>>"$SCRATCH/server.log" ||
        die "the house could not be made"
    chmod 0600 "$SCRATCH/manager.invitation"
}

# Aside, so that a signal is obeyed at once and not when the season has ended.
aside() {
    "$@" </dev/null &
    JOB=$!
    wait "$JOB" || { JOB=; exit 1; }
    JOB=
}

laptop() {
    where=$1
    shift
    "$COTYL" --dir "$SCRATCH/laptops/$where" "$@" 2>>"$SCRATCH/laptop.log"
}

# json_text MEMBER: the value of a text or number member, of JSON on standard input.
json_text() { tr -d '\n' | sed -n "s/.*\"$1\":[[:space:]]*\"\{0,1\}\([^\",}]*\).*/\1/p"; }

same() {
    cmp -s "$2" "$3" && return 0
    diff "$2" "$3" | head -n 20 >&2
    die "$1 differ"
}

# What a laptop reads offline and what the server reads of the same ledger: the same bytes.
compare() {
    out=$SCRATCH/reports
    mkdir -p "$out"
    laptop office status --json >"$out/status.json"
    house=$(json_text house <"$out/status.json")
    cotyld book --house "$house" >"$out/book.json" 2>>"$SCRATCH/server.log"
    book=$(json_text book <"$out/book.json")
    position=$(json_text position <"$out/book.json")
    [ -n "$book" ] || die "the server tells no book digest"
    [ "$(json_text book <"$out/status.json")" = "$book" ] || die "the book digests of laptop and server differ"
    for form in text csv json; do
        case $form in text) flag= ;; *) flag=--$form ;; esac
        # shellcheck disable=SC2086 # no flag for the text
        laptop office fill --on "$TODAY" $flag >"$out/office.$form"
        # shellcheck disable=SC2086
        laptop bench fill --on "$TODAY" $flag >"$out/bench.$form"
        cotyld fill --house "$house" --on "$TODAY" --form $form >"$out/server.$form" 2>>"$SCRATCH/server.log"
        same "the reports ($form) of two laptops" "$out/office.$form" "$out/bench.$form"
        same "the reports ($form) of laptop and server" "$out/office.$form" "$out/server.$form"
    done
    laptop office verify >/dev/null || die "the office laptop's ledger does not verify"
    cotyld verify >"$out/verify" 2>>"$SCRATCH/server.log" || die "the server's ledger does not verify"
}

# Each farm's buyer gets the house's signed statement: the house's figures for that farm, under the digest of what it may see.
compare_farms() {
    while read -r who farm; do
        laptop "$who" fill --on "$TODAY" >"$out/$who.text"
        laptop office fill --on "$TODAY" --farm "$farm" >"$out/office-$who.text"
        for side in "$who" "office-$who"; do sed '/^As of /,$d' "$out/$side.text" >"$out/$side.figures"; done
        same "what $farm and the house read" "$out/$who.figures" "$out/office-$who.figures"
        [ "$(wc -l <"$out/$who.figures")" -gt 10 ] || die "the statement for $farm is empty"
    done <<END
alder Alder Ford
brook Brook End
cinder Cinder Lane
heron Heron Reach
weir Weir Hill
END
}

how_to_go_on() {
    cat <<END

Left running. To go on by hand:

  export COTYLEDGER_DEMO_CLOCK=$SCRATCH/clock
  alias office='$COTYL --dir $SCRATCH/laptops/office'
  alias bench='$COTYL --dir $SCRATCH/laptops/bench'
  office fill --farm "Alder Ford"
  office orders "Weir Hill"
  bench list batch
  bench sync

  laptops   $SCRATCH/laptops
            office (manager), bench (hand), and one for each farm's buyer
  season    $SCRATCH/laptops/log
            every command and what it said
  server    $URL, data in $SCRATCH/server
  clock     $SCRATCH/clock
            $(cat "$SCRATCH/clock"); write a later time into it to go on

To stop and remove everything (and leave this terminal: the clock is set in it):

  kill $SERVER_PID; while kill -0 $SERVER_PID 2>/dev/null; do sleep 1; done; rm -rf $SCRATCH

END
}

left_running() {
    [ $STAY = yes ] || return 0
    how_to_go_on
    trap - EXIT INT TERM HUP
    exit 0
}

main() {
    install_packages "$HERE/packages.txt"
    make_scratch try
    [ -n "$BIN" ] || build
    find_programs
    start_server
    make_house
    if [ $PLAN = yes ]; then
        export COTYLEDGER_DEMO_UNTIL=2027-01-28
        aside sh "$HERE/demo/play.sh" "$SCRATCH"
        aside sh "$HERE/demo/live.sh" "$SCRATCH"
        left_running
        exit 0
    fi
    aside sh "$HERE/demo/play.sh" "$SCRATCH"
    TODAY=$(cut -c 1-10 "$SCRATCH/clock")
    compare
    compare_farms
    cat "$out/office.text"
    printf '\nThe laptop (offline) and the server say the same to the byte, as text, CSV and JSON,\nat position %s of the ledger, and each farm was told the same; book digest\n%s\n' \
        "$position" "$book"
    left_running
}
main
