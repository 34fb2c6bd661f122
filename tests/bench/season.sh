# shellcheck shell=sh
# The demo season, played by the programs in BUILD; sourced by run.sh. SEASON is then the folder with its laptops.

# have_season: plays it unless it is there.
have_season() {
    if [ -n "${COT_BENCH_SEASON:-}" ]; then SEASON=$COT_BENCH_SEASON; fi
    if [ -z "${SEASON:-}" ]; then
        SEASON=$SCRATCH/season
        make_room "$SEASON"
        play_season
    fi
    export SEASON
}

# season_cotyld ARGS...: replaces the shell it is called in.
season_cotyld() {
    cd /
    export COTYLEDGER_DEMO_SEED="three sluices" COTYLEDGER_DEMO_CLOCK="$SEASON/clock"
    exec setsid "$BUILD/server/cotyld" --data "$SEASON/server" --user "$(server_user)" "$@" 2>>"$SEASON/log"
}

# The port is the server's choice; its log tells it.
season_url() {
    waited=0
    until port=$(sed -n 's/.* serving .* port=\([0-9]*\).*/\1/p' "$SEASON/log" 2>/dev/null) && [ -n "$port" ]; do
        kill -0 "$JOB" 2>/dev/null || { tail -n 5 "$SEASON/log" >&2; die "the season's server ended at once"; }
        waited=$((waited + 1))
        [ $waited -lt 600 ] || die "the season's server is not ready after a minute"
        sleep 0.1
    done
    echo "http://127.0.0.1:$port"
}

play_season() {
    say "--- the demo season"
    printf '2026-12-01T07:00:00Z\n' >"$SEASON/clock"
    chmod 0644 "$SEASON/clock"
    season_cotyld --listen 127.0.0.1:0 serve &
    JOB=$!
    url=$(season_url)
    (season_cotyld --url "$url" new-house "Three Sluices" --manager "Wren" >"$SEASON/manager.invitation") || die "no house"
    COTYL="$BUILD/client/cotyl" sh "$ROOT/deploy/demo/play.sh" "$SEASON" || die "the season cannot be played"
    end_job
}
