#!/bin/sh
# Puts a copy made by backup.sh into DIR and begins a new epoch for every house in it.
#   restore.sh COPY DIR [COTYLD]
# DIR must hold no database (move DIR/pg away first) and no cotyld may run there. Devices then send by themselves what
# the copy lacks.
set -eu

fail() {
    echo "restore.sh: $*" >&2
    exit 1
}

[ $# -eq 2 ] || [ $# -eq 3 ] || fail "usage: restore.sh COPY DIR [COTYLD]"
copy=$1
dir=$2
cotyld=${3:-cotyld}
[ -f "$copy/PG_VERSION" ] || fail "$copy is no copy made by backup.sh"
[ ! -e "$dir/pg" ] || fail "$dir/pg is there: move it away first"
command -v "$cotyld" >/dev/null || fail "$cotyld is not there: name it as the third argument"

umask 077
mkdir -p "$dir"
if [ "$(id -u)" -eq 0 ]; then
    # Whoever owned the copy runs the database.
    chown "$(stat -c %u:%g "$copy")" "$dir"
fi
cp -a "$copy" "$dir/pg.restoring"
chmod 700 "$dir/pg.restoring"
sync -f "$dir/pg.restoring"
mv "$dir/pg.restoring" "$dir/pg"

status=0
"$cotyld" --data "$dir" verify || status=$?
[ $status -ne 1 ] || fail "the restored ledger does not fit: see above; remove $dir/pg and take an earlier copy"
[ $status -eq 0 ] || fail "the restored ledger could not be read: see above; put that right, remove $dir/pg and begin again"
"$cotyld" --data "$dir" houses | while read -r house _; do
    "$cotyld" --data "$dir" restored --house "$house" >/dev/null
done
