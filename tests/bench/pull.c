/* A fresh laptop fetches a house's whole ledger into its journal (join, and the first sync with it) and reads the book
 * from it (a list). Against bare COPY out, one parse and one SHA-256 an entry, bare SQLite insertion. */
#include "floor/loader.h"
#include "floor/pull.h"
#include "pages.h"
#include "bench.h"

#define RUNS 3

static double bare(const char *conninfo, int run, int64_t least)
{
    char path[BENCH_PATH];
    int64_t rows = 0;
    bench_path(path, "pulled-%d.db", run);
    double from = bench_now();
    bench_as_user(true);
    struct floor_pull *p = floor_pull_open(conninfo);
    bench_as_user(false);
    bool good = p && floor_pull_run(p, path, &rows);
    double took = bench_now() - from;
    ck_assert(good);
    ck_assert_int_ge(rows, least);
    return took;
}

void cot_bench(void)
{
    size_t entries = (size_t)bench_number("COT_BENCH_ENTRIES", bench_number("COT_BENCH_LARGE", 0) ? 100000 : 20000);
    double fetch[RUNS], book[RUNS], floor[RUNS];
    char office[BENCH_PATH], dir[BENCH_PATH], file[BENCH_PATH], name[20], conninfo[300];
    struct bench_mix mix;
    struct bench_writer w;
    struct cot_device d;
    bench_mix_load(&mix);
    bench_server(NULL);
    bench_path(office, "office");
    bench_house(office, "Three Sluices");
    for (int run = 0; run < RUNS; run++) {
        bench_path(file, "for-%d", run);
        snprintf(name, sizeof name, "Hand %d", run);
        bench_invite(office, name, "hand", file);
    }
    bench_device(office, "Loader", &d);
    bench_writer_open(&w, &d, &mix);
    bench_writer_load(&w, entries);
    bench_conninfo(conninfo, sizeof conninfo);
    bench_as_user(true);
    ck_assert(floor_tables(conninfo) && floor_pull_prepare(conninfo, d.house.b));
    bench_as_user(false);
    for (int run = 0; run < RUNS; run++) {
        bench_say("pull: run %d of %d", run + 1, RUNS);
        bench_path(file, "for-%d", run);
        bench_path(dir, "laptop-%d", run);
        fetch[run] = bench_cotyl(dir, COT_ARGS("join", "--invitation", file, "--label", "bench")) / 1e3;
        book[run] = bench_cotyl(dir, COT_ARGS("list", "farms")) / 1e3;
        floor[run] = bare(conninfo, run, (int64_t)entries);
    }
    double fetched = bench_median(fetch, RUNS), read = bench_median(book, RUNS), least = bench_median(floor, RUNS);
    bench_row("pull_entries", (double)entries, "entries");
    bench_row("pull_fetch", fetched, "s");
    bench_row("pull_book", read, "s");
    bench_row("pull_rate", (double)entries / (fetched + read), "/s");
    bench_row("pull_bare", least, "s");
    bench_row("pull_bare_rate", (double)entries / least, "/s");
    bench_row("pull_ratio", least / (fetched + read), "x");
    bench_writer_close(&w);
    bench_mix_free(&mix);
}
