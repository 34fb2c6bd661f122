/* The stand's arithmetic on plain figures: knows nothing of the book. */
#ifndef COT_CORE_STAND_CALC_H
#define COT_CORE_STAND_CALC_H

#include "cotyledger/core/stand.h"

/* --- The rate before any count --------------------------------------------------------------------------------- */
struct cot_rate_known {
    bool potted;
    int64_t test_seeds, test_germ; /* test_seeds 0: no test */
    int64_t label;                 /* per mille; -1: none */
    int64_t assumed_seeds;         /* seeds assumed tested where only a label says */
    int64_t lawful;                /* per mille; -1: none */
    int64_t emergence, usable;     /* per mille */
    int64_t per_cell, at_least;    /* seeds in a cell, plants that make it usable */
};
#define COT_EMERGENCE_DEFAULT 1000 /* house assumption: as many emerge as in the test */
#define COT_USABLE_DEFAULT 950     /* house assumption, common practice, no source */
#define COT_LAWFUL_SEEDS 50        /* house assumption: seeds that a lawful minimum is worth */
#define COT_PRIOR_MOST 200.0       /* cells that a prior is worth at most, so that counts speak */
#define COT_POTTED_A 98.0          /* house assumption, shown: 98 of 100 plants potted on take */
#define COT_POTTED_B 2.0
#define COT_SHARE_WEIGHT 20.0 /* house assumption: cells that the crop's usable share is worth */

/* Beta(a, b) of the rate of usable cells: g ~ Beta(germinated + 1, not + 1), a seed gives a usable plant with g.e.u, a
 * cell is usable with at least m of K; the Beta has the exact mean and variance of that, its a + b cut to
 * COT_PRIOR_MOST. */
enum cot_stand_basis cot_rate_before(const struct cot_rate_known *k, double *a, double *b);

/* --- Counts and losses --------------------------------------------------------------------------------------- */
struct cot_place { /* the order in which facts count; see book.h */
    int64_t t;
    char tag[COT_TAG_MAX + 1];
    int64_t number;
};
int cot_place_order(const struct cot_place *x, const struct cot_place *y);

enum cot_work_what { COT_WORK_COUNT, COT_WORK_POOLED, COT_WORK_LOST, COT_WORK_PATCHED };
struct cot_work {
    enum cot_work_what what;
    int32_t day;
    struct cot_place place;
    const struct cot_tray_count *counts; /* COUNT */
    size_t count_len;
    struct cot_tray_count pooled; /* POOLED; its tray: how many */
    int64_t plants;               /* LOST, PATCHED; COT_COUNT_UNKNOWN: whole trays */
    int64_t trays;                /* LOST without numbers: how many trays */
    bool were_usable;             /* LOST plants */
    const int32_t *which;         /* LOST, PATCHED: trays by number */
    size_t which_len;
};
void cot_work_sort(struct cot_work *w, size_t n); /* by day, then place */

struct cot_stand_in {
    int32_t trays;               /* numbered 1..trays; rows of a shared tray: 1 */
    int64_t tray_cells;          /* cells of a tray */
    int64_t cells;               /* sown or filled, at most trays x tray_cells; spread evenly over the trays */
    double a, b;                 /* the rate before any count */
    double usable_share;         /* of plants that emerged */
    const struct cot_work *work; /* sorted */
    size_t work_len;
};
/* Fills counted .. lost, a, b, unseen, fixed, survivors, sa, sb, most of *out. MEMORY. */
COT_MUSTCHECK enum cot_err cot_stand_sum(const struct cot_stand_in *in, struct cot_stand *out);
/* Fills likely, count_on, over from the rest; confidence per mille. */
void cot_stand_finish(struct cot_stand *s, int32_t confidence);

#define COT_CELLS_WALKED 65536 /* cells of a batch not seen, above which they are taken in bundles */

/* cot_stand_at at the levels (2i + 1) / (2n), i = 0 .. n-1. MEMORY. */
COT_MUSTCHECK enum cot_err cot_stand_levels(const struct cot_stand *s, int n, int64_t *out);

#endif
