/* A new laptop joins a house on this machine: the whole process, to the end of its first sync. */
#include "bench.h"

void cot_bench(void)
{
    size_t runs = (size_t)bench_number("COT_BENCH_RUNS", 15);
    double ms[BENCH_RUNS_MAX];
    char office[BENCH_PATH], dir[BENCH_PATH], file[BENCH_PATH], name[40];
    bench_path(office, "office");
    bench_server(NULL);
    bench_house(office, "Three Sluices");
    ck_assert_uint_lt(runs, BENCH_RUNS_MAX);
    for (size_t i = 0; i <= runs; i++) { /* the first is not counted */
        bench_path(dir, "new-%zu", i);
        bench_path(file, "for-%zu", i);
        snprintf(name, sizeof name, "Hand %zu", i);
        bench_invite(office, name, "hand", file);
        double one = bench_cotyl(dir, COT_ARGS("join", "--invitation", file, "--label", "bench"));
        if (i) ms[i - 1] = one;
    }
    bench_row("join", bench_median(ms, runs), "ms");
}
