# shellcheck shell=sh
# Shared by deploy/try.sh and tests/run.sh; sourced, not run. POSIX sh.
# Both keep everything they make in one scratch folder, and leave neither files nor processes behind.

say() { printf '%s\n' "$*" >&2; }
die() { say "$0: $*"; exit 1; }
now() { date +%s; }

# packages_of FILE: the names in a package list.
packages_of() { sed -e 's/#.*//' -e 's/[[:space:]]//g' -e '/^$/d' "$1"; }

# package_there NAME: installed. Some lists name virtual packages, so what provides it counts too.
package_there() {
    case $(dpkg-query -W -f '${Status}' "$1" 2>/dev/null) in
    *' installed') return 0 ;;
    esac
    return 1
}

# as_root COMMAND...: directly for root, else through sudo.
as_root() {
    if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi
}

# install_packages FILE...: what the lists name and is not there. With all there, nothing is asked of the network.
install_packages() {
    command -v dpkg-query >/dev/null 2>&1 || die "this is not a Debian system; install by hand what $* name"
    missing=
    for list in "$@"; do
        for package in $(packages_of "$list"); do
            package_there "$package" || missing="$missing $package"
        done
    done
    [ -n "$missing" ] || return 0
    say "installing:$missing"
    [ "$(id -u)" = 0 ] || command -v sudo >/dev/null 2>&1 || die "packages are missing and there is no sudo; as root: apt-get install$missing"
    # Debian makes a database cluster of its own when PostgreSQL is first installed; none is wanted here. Clusters that are there stay.
    clusters=/etc/postgresql-common/createcluster.d
    ours=$clusters/cotyledger-none.conf
    as_root mkdir -p "$clusters"
    printf 'create_main_cluster = false\n' | as_root tee "$ours" >/dev/null
    status=0
    # shellcheck disable=SC2086 # the list is split on purpose
    as_root env DEBIAN_FRONTEND=noninteractive sh -c 'apt-get -q update && apt-get -q install -y --no-install-recommends "$@"' sh $missing >&2 || status=1
    as_root rm -f "$ours"
    [ $status = 0 ] || die "the packages could not be installed"
}

# Root never runs the database: its server drops to this user.
server_user() {
    if [ "$(id -u)" = 0 ]; then echo nobody; else id -un; fi
}

# make_scratch NAME: sets SCRATCH. Nobody else may look in; as root the server's user may walk through, by its group.
make_scratch() {
    SCRATCH=$(mktemp -d "${TMPDIR:-/tmp}/cotyledger-$1.XXXXXX")
    if [ "$(id -u)" = 0 ]; then
        chgrp "$(id -gn "$(server_user)")" "$SCRATCH"
        chmod 0710 "$SCRATCH"
    else
        chmod 0700 "$SCRATCH"
    fi
}

# wait_gone PID SECONDS: true when the process has ended.
wait_gone() {
    left=$(($2 * 10))
    while kill -0 "$1" 2>/dev/null; do
        [ $left -gt 0 ] || return 1
        left=$((left - 1))
        sleep 0.1
    done
}

# stop_pid PID: asks, then insists.
stop_pid() {
    kill -TERM "$1" 2>/dev/null || return 0
    wait_gone "$1" 20 || kill -KILL "$1" 2>/dev/null || :
}

# Databases whose server was killed and could not stop them itself. Only those inside the scratch folder.
stop_databases() {
    find "$SCRATCH" -name postmaster.pid -type f 2>/dev/null | while read -r file; do
        pid=$(head -n 1 "$file")
        case $(tr '\0' ' ' <"/proc/$pid/cmdline" 2>/dev/null) in
        *postgres*"$SCRATCH"*)
            kill -INT "$pid" 2>/dev/null || :
            wait_gone "$pid" 10 || kill -QUIT "$pid" 2>/dev/null || :
            wait_gone "$pid" 5 || :
            ;;
        esac
    done
}

remove_scratch() {
    [ -n "${SCRATCH:-}" ] && [ -d "$SCRATCH" ] || return 0
    stop_databases
    rm -rf "$SCRATCH"
}
