# shellcheck shell=sh
# Every command and topic has its words, every manual page passes the linters that are here, and completion is shell that
# its shell can read.
set -eu
cotyl=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$cotyl" manual --all "$work"
commands=$("$cotyl" help | sed -n 's/^  \([a-z][a-z-]*\)  .*/\1/p')
[ "$(echo "$commands" | wc -w)" -gt 40 ] || { echo "few commands: $commands"; exit 1; }
for c in $commands; do
    [ -s "$work/cotyl-$c.1" ] || { echo "no page of $c"; exit 1; }
    "$cotyl" help "$c" | grep -q "^usage: cotyl $c" || { echo "help $c does not begin with its usage"; exit 1; }
done
[ -s "$work/cotyl.1" ]
for t in codes days amounts exits; do [ "$("$cotyl" help "$t" | wc -l)" -ge 5 ] || { echo "no topic $t"; exit 1; }; done
lint=$(mandoc -T lint -W warning "$work"/*.1 2>&1) || { echo "$lint"; exit 1; }
for page in "$work"/*.1; do
    said=$(LC_ALL=C.UTF-8 MANROFFSEQ='' MANWIDTH=80 man --warnings -E UTF-8 -l -Tutf8 -Z "$page" 2>&1 >/dev/null)
    [ -z "$said" ] || { echo "$page: $said"; exit 1; }
done
if "$cotyl" help conut 2>"$work/err"; then echo "help of a mistyped word succeeds"; exit 1; fi
grep -q "did you mean count" "$work/err"
"$cotyl" completion bash >"$work/bash"
bash -n "$work/bash"
# Options of a command come by themselves: what the shell would offer behind `cotyl count --`.
offered=$(bash -c '. "$1"; COMP_WORDS=(cotyl count --); COMP_CWORD=2; _cotyl; echo "${COMPREPLY[*]}"' - "$work/bash")
case " $offered " in *" --blanks "*) ;; *) echo "completion offers: $offered"; exit 1 ;; esac
"$cotyl" completion zsh >"$work/zsh"
zsh -n "$work/zsh"
if "$cotyl" completion fish 2>/dev/null; then echo "a shell that is not there"; exit 1; fi
