# shellcheck shell=sh
# A command that needs no server does not load what speaks to one: that alone takes longer than the command.
set -eu
cotyl=$1
if ldd "$cotyl" | grep -i curl; then
    echo "cotyl loads libcurl when it starts"
    exit 1
fi
"$cotyl" --version | grep -q '^cotyl '
