#!/bin/sh
# includes.sh refuses what it is there to refuse, and lets a sound tree pass.
set -eu
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
tree=$(mktemp -d)
trap 'rm -rf "$tree"' EXIT

fresh() {
    rm -rf "${tree:?}"/*
    mkdir -p "$tree/include/cotyledger/core" "$tree/include/cotyledger/wire" "$tree/server/core/book" "$tree/server/wire" \
        "$tree/server/store" "$tree/server/http" "$tree/client/journal" "$tree/client/net"
    echo '#include <stddef.h>' >"$tree/include/cotyledger/core/book.h"
    echo '#include "cotyledger/core/book.h"' >"$tree/server/core/book/inner.h"
    echo '#include <libpq-fe.h>' >"$tree/server/store/rows.c"
    echo '#include <microhttpd.h>' >"$tree/server/http/route.c"
    echo '#include <sqlite3.h>' >"$tree/client/journal/db.c"
    echo '#include <curl/curl.h>' >"$tree/client/net/call.c"
    echo '#include "cotyledger/core/book.h"' >"$tree/client/main.c"
}

fresh
sh "$here/includes.sh" "$tree" || { echo "a sound tree is refused"; exit 1; }

refuses() { # FILE LINE
    fresh
    echo "$2" >>"$tree/$1"
    if sh "$here/includes.sh" "$tree" >/dev/null; then
        echo "let pass: $1 with $2"
        exit 1
    fi
}
refuses client/main.c '#include "../server/core/book/inner.h"'
refuses client/main.c '#include "inner.h"'
refuses client/main.c '#include <libpq-fe.h>'
refuses client/main.c '#include <sqlite3.h>'
refuses client/main.c ' # include <curl/curl.h>'
refuses client/net/call.c '#include <sqlite3.h>'
refuses client/journal/db.c '#include <curl/curl.h>'
refuses client/journal/db.c '#include <microhttpd.h>'
refuses server/main.c '#include <libpq-fe.h>'
refuses server/http/route.c '#include <libpq-fe.h>'
refuses server/store/rows.c '#include <microhttpd.h>'
refuses server/wire/page.c '#include <libpq-fe.h>'
refuses server/wire/page.c '#include <sys/socket.h>'
refuses server/core/book/book.c '#include <time.h>'
refuses server/core/book/book.c '#include <sodium.h>'
refuses server/core/book/book.c '#include "cotyledger/wire/bytes.h"'
refuses include/cotyledger/core/book.h '#include "cotyledger/wire/bytes.h"'
echo "every one refused"
