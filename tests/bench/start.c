/* How long the client takes to begin at all, over a program that does nothing. */
#include "bench.h"

void cot_bench(void)
{
    struct bench_pair p = bench_two(41, (const char *const[]){COTYL_PROGRAM, "--version", NULL},
                                    (const char *const[]){"/bin/true", NULL});
    bench_row("start", p.ms, "ms");
    bench_row("start_bare", p.bare_ms, "ms");
    bench_row("start_over", p.ms - p.bare_ms, "ms");
}
