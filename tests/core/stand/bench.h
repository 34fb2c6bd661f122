/* A stand on plain figures: a batch, and work added to it by each test. */
#ifndef COT_TESTS_CORE_STAND_BENCH_H
#define COT_TESTS_CORE_STAND_BENCH_H

#include <string.h>

#include "stand/calc.h"
#include "../seed.h"

#define U COT_COUNT_UNKNOWN

/* --- A batch of 10 trays of 72 cells, with work added by each test --------------------------------------------------
 */
struct bench {
    struct cot_stand_in in;
    struct cot_work work[64];
    struct cot_tray_count counts[64];
    size_t counts_used;
    struct cot_stand s;
};

static inline void bench_new(struct bench *x, int32_t trays, int64_t tray_cells)
{
    *x = (struct bench){.in = {.trays = trays,
                               .tray_cells = tray_cells,
                               .cells = trays * tray_cells,
                               .count_day = COT_DAY_NONE,
                               .usable_share = 0.95}};
    struct cot_spread spread;
    cot_spread_assumed(&spread);
    memcpy(x->in.rho_weight, spread.rho_weight, sizeof spread.rho_weight);
    cot_odds_of_seed(90, 10, 1, &x->in.before); /* a rate about 90 % */
    x->in.work = x->work;
}

static inline struct cot_work *work(struct bench *x, enum cot_work_what what, int32_t day)
{
    struct cot_work *w = &x->work[x->in.work_len++];
    *w = (struct cot_work){.what = what, .day = day, .plants = U, .were_usable = true};
    w->place = (struct cot_place){.t = (int64_t)x->in.work_len, .tag = "B", .number = (int64_t)x->in.work_len};
    return w;
}

static inline void count(struct bench *x, int32_t day, int32_t tray, int32_t looked, int32_t usable, int32_t blanks,
                         int32_t culls)
{
    struct cot_work *w = work(x, COT_WORK_COUNT, day);
    struct cot_tray_count *c = &x->counts[x->counts_used++];
    *c = (struct cot_tray_count){tray, looked, usable, blanks, culls, U};
    w->counts = c;
    w->count_len = 1;
}

static inline void pooled(struct bench *x, int32_t day, int32_t looked, int32_t usable, int32_t blanks)
{
    work(x, COT_WORK_POOLED, day)->pooled = (struct cot_tray_count){4, looked, usable, blanks, U, U};
}

static inline void lose_plants(struct bench *x, int32_t day, int64_t plants)
{
    work(x, COT_WORK_LOST, day)->plants = plants;
}

static inline void lose_trays(struct bench *x, int32_t day, int64_t trays)
{
    work(x, COT_WORK_LOST, day)->trays = trays;
}

static inline void lose_which(struct bench *x, int32_t day, const int32_t *which, size_t n)
{
    struct cot_work *w = work(x, COT_WORK_LOST, day);
    w->which = which;
    w->which_len = n;
}

static inline const struct cot_stand *sum(struct bench *x)
{
    int64_t out = x->s.out;
    double later = x->s.later_share;
    x->s = (struct cot_stand){.counted = COT_DAY_NONE, .out = out, .later_share = later};
    cot_work_sort(x->work, x->in.work_len);
    sure(cot_stand_sum(&x->in, &x->s, NULL) == COT_OK);
    cot_stand_finish(&x->s, 900);
    return &x->s;
}

#endif
