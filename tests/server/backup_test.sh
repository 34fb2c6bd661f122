#!/bin/sh
# Backup while it serves, a loss, a restore: what the copy had is there, in a new epoch, and everything fits.
#   backup_test.sh COTYLD DEPLOY
set -eu
cotyld=$1
deploy=$2
scratch=$(mktemp -d /tmp/cotyld-test-XXXXXX)
chmod 711 "$scratch"
pid=
clean() {
    [ -z "$pid" ] || { kill "$pid" && wait "$pid"; } || true
    rm -rf "$scratch"
}
trap clean EXIT
fail() {
    echo "backup_test.sh: $*" >&2
    cat "$scratch/log" >&2
    exit 1
}
serve() {
    : >"$scratch/log"
    "$cotyld" --data "$scratch/d" --listen 127.0.0.1:0 serve 2>"$scratch/log" &
    pid=$!
    tries=0
    until grep -q ' serving ' "$scratch/log"; do
        kill -0 "$pid" || fail "the server ended"
        tries=$((tries + 1))
        [ "$tries" -lt 1200 ] || fail "the server does not serve"
        sleep 0.1
    done
}
stop() {
    kill "$pid"
    wait "$pid" || fail "the server did not stop in order"
    pid=
}

serve
"$cotyld" --data "$scratch/d" new-house "Alder House" --manager "Mara Quill" >"$scratch/invitation" 2>/dev/null
book=$("$cotyld" --data "$scratch/d" book | sed 's/.*"book"//')
copy=$("$deploy/backup.sh" "$scratch/d" "$scratch/copies")
"$cotyld" --data "$scratch/d" new-house "Brook House" --manager "Una Marsh" >/dev/null 2>&1
stop
if "$deploy/backup.sh" "$scratch/d" "$scratch/copies" 2>/dev/null; then fail "a stopped server was copied"; fi
if "$deploy/restore.sh" "$copy" "$scratch/d" "$cotyld" 2>/dev/null; then fail "a database was overwritten"; fi

mv "$scratch/d/pg" "$scratch/lost"
"$deploy/restore.sh" "$copy" "$scratch/d" "$cotyld" >"$scratch/restored" 2>&1 || fail "restore: $(cat "$scratch/restored")"
serve
"$cotyld" --data "$scratch/d" houses >"$scratch/houses"
grep -q 'epoch 2  position 2  Alder House' "$scratch/houses" || fail "houses: $(cat "$scratch/houses")"
[ "$(wc -l <"$scratch/houses")" -eq 1 ] || fail "houses: $(cat "$scratch/houses")"
again=$("$cotyld" --data "$scratch/d" book | sed 's/.*"book"//')
[ "$book" = "$again" ] || fail "the book is another one: $again"
stop
