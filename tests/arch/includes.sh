#!/bin/sh
# includes.sh ROOT: every #include of ROOT's rooms against the table below. Prints each that is out of place; exit 1 if any.
set -eu
cd "$1"

# Names of our own files have no blanks.
# shellcheck disable=SC2046
awk '
# Room (paths), the headers it may name, those it may not. The first room that a path is in counts.
function room(paths, allowed, forbidden) {
    ++rooms
    at[rooms] = paths
    may[rooms] = allowed
    never[rooms] = forbidden
}
BEGIN {
    plain = "stdarg|stdbool|stddef|stdint"
    system_h = "(locale|time|unistd|pthread|signal|fcntl|threads|sqlite3|microhttpd)[.]h|(libpq|postgres|curl|sys|netinet|arpa).*"
    room("^include/cotyledger/core/", "^(cotyledger/core/[a-z]+|" plain ")[.]h$", "^$")
    room("^include/cotyledger/wire/", "^(cotyledger/(core|wire)/[a-z]+|" plain ")[.]h$", "^$")
    room("^server/core/", "^(cotyledger/core/[a-z]+|([a-z]+/)?[a-z0-9_]+)[.]h$", "^(" system_h "|(sodium|jansson|errno|setjmp)[.]h)$")
    room("^server/wire/", "^(cotyledger/(core|wire)/[a-z]+|[a-z0-9_]+)[.]h$", "^(" system_h ")$")
    room("^server/store/", ".", "^(microhttpd|sqlite3|curl/|jansson)")
    room("^server/http/", ".", "^(libpq|postgres|sqlite3|curl/)")
    room("^server/", ".", "^(libpq|postgres|microhttpd|sqlite3|curl/)")
    room("^client/journal/", ".", "^(libpq|postgres|microhttpd|curl/)|(^|/)server/")
    room("^client/net/", ".", "^(libpq|postgres|microhttpd|sqlite3)|(^|/)server/")
    room("^client/calendar/", ".", "^(libpq|postgres|microhttpd|sqlite3|curl/)|(^|/)server/")
    room("^client/", ".", "^(libpq|postgres|microhttpd|sqlite3|curl/|libical/)|(^|/)server/")
}
function basename(path) {
    sub(/.*\//, "", path)
    return path
}
FNR == 1 {
    for (r = 1; r <= rooms && FILENAME !~ at[r]; r++) continue
    if (r > rooms) complain(FILENAME ": in no room")
    if (FILENAME ~ /[.]h$/) owned[FILENAME ~ /^server\// ? "server" : "other", basename(FILENAME)] = 1
}
function complain(words) {
    print words
    bad = 1
}
/^[ \t]*#[ \t]*include[ \t]*[<"]/ {
    header = $0
    sub(/^[^<"]*[<"]/, "", header)
    sub(/[>"].*/, "", header)
    if (r <= rooms && (header !~ may[r] || header ~ never[r])) complain(FILENAME ": includes " header)
    if (FILENAME ~ /^(client|include)\//) named[FILENAME, basename(header)] = 1
}
# A client that names a header of the server by its bare name has found a way round.
END {
    for (pair in named) {
        split(pair, p, SUBSEP)
        if ((("server", p[2]) in owned) && !(("other", p[2]) in owned)) complain(p[1] ": includes " p[2] ", a header of the server")
    }
    exit bad
}' $(find include server client -name '*.[ch]' | sort)
