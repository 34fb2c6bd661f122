#!/bin/sh
# Lives the demo's spring by the plan instead of by the diary: plans from the order book alone, then goes day by day through
# the list on the wall, counts what stands, and plans again when something happens.
#
#   sh deploy/demo/live.sh WORK
#
# WORK is the folder in which play.sh played the winter (COTYLEDGER_DEMO_UNTIL=2027-01-28). Counts are made up from the
# tags, the same each time. COTYL names the program.
set -eu

[ $# = 1 ] || { sed -n '2,9s/^# \{0,1\}//p' "$0" >&2; exit 2; }
WORK=$(CDPATH='' cd -- "$1" && pwd)
COTYL=${COTYL:-cotyl}
export COTYLEDGER_DEMO_CLOCK="$WORK/clock" NO_COLOR=1
unset COTYL_DIR || :
FIRST=2027-01-28
LAST=${COTYLEDGER_DEMO_LAST:-2027-06-11}
calls=0

# Each call has its own salts, the same in every run.
office() {
    calls=$((calls + 1))
    COTYLEDGER_DEMO_SEED="three sluices, planned $calls" "$COTYL" --dir "$WORK/laptops/office" "$@" 2>>"$WORK/live.log"
}

fail() {
    printf 'the planned season stopped on %s at: %s\n' "$day" "$1" >&2
    tail -n 5 "$WORK/live.log" >&2
    exit 1
}

set_clock() {
    printf '%sT%s:00Z\n' "$day" "$1" >"$WORK/clock.new"
    mv "$WORK/clock.new" "$WORK/clock"
}

covered() { sed -n 's/^\([0-9]*\) of \([0-9]*\) lines are planned for in full.*/\1 \2/p' "$1"; }
sums() { sed -n '/ lines are planned for in full/,/^$/{/^$/d;p;}' "$1" | sed 's/^/  /'; }

# Shows the plan, holds it against one made afresh, and accepts it.
plan() {
    office plan >"$WORK/plan" || fail "plan"
    office plan --from-scratch >"$WORK/afresh" || fail "plan --from-scratch"
    printf '\n%s, %s\n' "$day" "$1"
    sums "$WORK/plan"
    kept=$(covered "$WORK/plan")
    afresh=$(covered "$WORK/afresh")
    [ "${kept%% *}" -ge "${afresh%% *}" ] || fail "a plan that keeps decisions serves $kept lines, one made afresh $afresh"
    printf '  Made afresh, %s of %s lines would be planned for.\n' "${afresh%% *}" "${afresh##* }"
    accept
}

accept() {
    mark=$(sed -n 's/.*--accept \([A-Z]*\)` records.*/\1/p' "$WORK/plan")
    [ -z "$mark" ] || office plan --accept "$mark" >/dev/null || fail "plan --accept $mark"
}

# Figures of a count, made up from tag and tray number: a twelfth of the cells blank or so, a few culls and doubles.
count_words() {
    awk -v code="$1" -v which="$2" -v cells="$3" 'BEGIN {
        letters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-"
        for (i = 1; i <= length(code); i++) h = (h * 37 + index(letters, substr(code, i, 1))) % 10007
        n = split(which, tray, ",")
        for (i = 1; i <= n; i++) {
            h = (h * 131 + tray[i]) % 10007
            blanks = int(cells * (4 + h % 9) / 100)
            culls = int(cells * (h % 5) / 100)
            printf("%s%d:%d/%d/%d/%d/%d", (i > 1 ? " " : ""), tray[i], cells, cells - blanks - culls, blanks, culls, h % 4)
        }
    }'
}

cells_of() {
    case $1 in
    50) echo 50 ;; 72) echo 72 ;; 98) echo 98 ;; 128) echo 128 ;; 200) echo 200 ;; 288) echo 288 ;;
    *) fail "cells of $1" ;;
    esac
}

# mark,job,due,late_days,code,line,farm,variety,lot,format,plate,trays,rows,plants,per_cell,which,bench,treated
do_jobs() {
    office today --csv | tr -d '\r' | awk -F, 'NR > 1 { q = $0; w = ""; if (match(q, /"[0-9,]*"/)) w = substr(q, RSTART + 1, RLENGTH - 2); else w = $16; print $1 "|" $2 "|" $5 "|" $10 "|" w }' >"$WORK/jobs"
    while IFS='|' read -r mark job code format which; do
        case $job in
        fill | patch) ;;
        count)
            words=$(count_words "$code" "$which" "$(cells_of "$format")")
            # shellcheck disable=SC2086 # words on purpose
            office count "$code" $words >/dev/null || fail "count $code $words"
            counted=$((counted + 1))
            ;;
        *)
            office "done" "$mark" >/dev/null || fail "done $mark ($job $code)"
            done=$((done + 1))
            ;;
        esac
    done <"$WORK/jobs"
}

events() {
    case $day in
    2027-02-01)
        office add lot GP-2703 --variety "Green Pontoon" --organic --label-germ 90% --stock-seeds 20000 >/dev/null || fail lot
        office add lot BM-2703 --variety "Blue Mooring" --label-germ 88% --stock-seeds 20000 >/dev/null || fail lot
        office add lot GM-2703 --variety "Grey Millstone" --organic --label-germ 88% --stock-seeds 5000 >/dev/null || fail lot
        plan "the seed that was missing has come"
        ;;
    2027-02-22)
        office order "Alder Ford" "Red Harbour" --plants 1500 --format 128 --on 2027-04-14 >/dev/null || fail order
        office promise --all >/dev/null || fail promise
        plan "a late order of 1500 Red Harbour"
        ;;
    2027-03-01)
        office shut "cool chamber" --from 2027-03-01 --until 2027-03-07 --why "heater broken" >/dev/null || fail shut
        plan "the cool chamber is out of use for a week (W09)"
        ;;
    2027-03-10)
        office change lot LM-2701 --withdrawn yes >/dev/null || fail withdrawn
        office add lot LM-2703 --variety "Low Meadow" --form pelleted --label-germ 90% --stock-seeds 9000 >/dev/null || fail lot
        plan "lot LM-2701 of Low Meadow is called back, another is bought"
        ;;
    esac
}

day=$FIRST
set_clock 07:00
done=0 counted=0
office plan --each-alone >"$WORK/alone" || fail "plan --each-alone"
plan "planned from the order book alone"
printf '  Were every line sown by itself:\n'
sums "$WORK/alone" | sed 's/^/  /'
told=$(date +%s)
while [ "$(printf '%s\n%s\n' "$day" "$LAST" | LC_ALL=C sort | head -n 1)" = "$day" ]; do
    set_clock 07:00
    case $(date -d "$day" +%u) in
    [67]) ;;
    *)
        events
        do_jobs
        ;;
    esac
    if [ $(($(date +%s) - told)) -ge 5 ]; then
        printf 'planned season: %s, %s jobs done, %s stands counted\n' "$day" "$done" "$counted" >&2
        told=$(date +%s)
    fi
    day=$(date -d "$day + 1 day" +%F)
done
printf '\nUntil %s: %s jobs of the list done, %s stands counted.\n\n' "$LAST" "$done" "$counted"
office fill --on "$LAST" | sed -n '/^All farms/,/^As of/p' | sed '/^As of/,$d'
