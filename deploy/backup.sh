#!/bin/sh
# Copies the database of a running cotyld --data DIR to a new directory below TARGET, byte for byte and while it serves.
#   backup.sh DIR TARGET
# Prints the new directory's name. Restore with restore.sh.
set -eu

fail() {
    echo "backup.sh: $*" >&2
    exit 1
}

[ $# -eq 2 ] || fail "usage: backup.sh DIR TARGET"
dir=$1
target=$2
[ -d "$dir/pg" ] || fail "$dir is no directory of cotyld --data"
mkdir -p "$target"
copy=$target/cotyledger-$(date -u +%Y%m%dT%H%M%SZ)
[ ! -e "$copy" ] || fail "$copy is there already"

# The database knows this system's users: only the one that cotyld runs as comes in.
as_owner() {
    if [ "$(id -u)" -eq 0 ]; then
        setpriv --reuid="$(stat -c %u "$dir")" --regid="$(stat -c %g "$dir")" --clear-groups "$@"
    else
        "$@"
    fi
}

sockets=$dir/s
[ ! -e "$dir/socket" ] || sockets=$(cat "$dir/socket")
[ -S "$sockets/.s.PGSQL.5432" ] || fail "cotyld does not run in $dir: start it, or copy the whole directory while it is stopped"
version=$(cat "$dir/pg/PG_VERSION")
program=/usr/lib/postgresql/$version/bin/pg_basebackup
[ -x "$program" ] || program=$(command -v pg_basebackup) || fail "pg_basebackup of PostgreSQL $version is not installed"

umask 077
mkdir "$copy"
chown "$(stat -c %u:%g "$dir")" "$copy"
as_owner "$program" --host="$sockets" --port=5432 --username=cotyledger_backup --pgdata="$copy" --format=plain --wal-method=stream \
    --checkpoint=fast --no-password || {
    rm -rf "$copy"
    fail "the copy failed; nothing is left of it"
}
echo "$copy"
