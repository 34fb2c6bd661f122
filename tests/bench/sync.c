/* A thousand order lines written without a network: sent by the laptop that has them, fetched by another one. */
#include "bench.h"

#define ENTRIES 1000
#define RUNS 3

static void write_sheet(const char *path, int run)
{
    FILE *f = fopen(path, "we");
    ck_assert_ptr_nonnull(f);
    fputs("variety,format,plants,date,ref\n", f);
    for (int i = 0; i < ENTRIES; i++)
        fprintf(f, "Red Harbour,128 square,%d,2027-%02d-%02d,R%d-%d\n", 100 + i, 3 + i % 3, 1 + i % 28, run, i);
    ck_assert_int_eq(fclose(f), 0);
}

void cot_bench(void)
{
    static const char *const things[][10] = {{"add", "crop", "Lettuce"},
                                             {"add", "format", "128 square", "--rows", "8", "--cols", "16"},
                                             {"add", "variety", "Red Harbour", "--crop", "Lettuce"},
                                             {"add", "farm", "Alder Ford"},
                                             {"sync"}};
    double send[RUNS], fetch[RUNS];
    char office[BENCH_PATH], bench[BENCH_PATH], file[BENCH_PATH];
    bench_path(office, "office");
    bench_path(bench, "bench");
    bench_path(file, "for-bench");
    bench_server(NULL);
    bench_house(office, "Three Sluices");
    for (size_t i = 0; i < sizeof things / sizeof things[0]; i++) bench_cotyl(office, things[i]);
    bench_invite(office, "Sorrel", "hand", file);
    bench_cotyl(bench, COT_ARGS("join", "--invitation", file, "--label", "bench"));
    for (int run = 0; run < RUNS; run++) {
        bench_say("sync: run %d of %d", run + 1, RUNS);
        bench_path(file, "orders.csv");
        write_sheet(file, run);
        bench_cotyl(office, COT_ARGS("import", "orders", file, "--farm", "Alder Ford"));
        send[run] = bench_cotyl(office, COT_ARGS("sync", "--quiet")) / 1e3;
        fetch[run] = bench_cotyl(bench, COT_ARGS("sync", "--quiet")) / 1e3;
    }
    double sent = bench_median(send, RUNS), fetched = bench_median(fetch, RUNS);
    bench_row("sync_send", sent, "s");
    bench_row("sync_send_rate", ENTRIES / sent, "/s");
    bench_row("sync_fetch", fetched, "s");
    bench_row("sync_fetch_rate", ENTRIES / fetched, "/s");
}
