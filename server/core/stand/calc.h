/* The stand's arithmetic on plain figures: knows nothing of the book. */
#ifndef COT_CORE_STAND_CALC_H
#define COT_CORE_STAND_CALC_H

#include "cotyledger/core/stand.h"
#include "stand/post.h"

/* --- The rate before any count --------------------------------------------------------------------------------- */
struct cot_rate_known {
    bool potted;
    int64_t test_seeds, test_germ; /* test_seeds 0: no test */
    int64_t label;                 /* per mille; -1: none */
    int64_t assumed_seeds;         /* seeds assumed tested where only a label says */
    int64_t lawful;                /* per mille; -1: none */
    int64_t emergence, usable;     /* per mille */
};
#define COT_EMERGENCE_DEFAULT 1000 /* house assumption: as many emerge as in the test */
#define COT_USABLE_DEFAULT 950     /* house assumption, common practice, no source */
#define COT_LAWFUL_SEEDS 50        /* house assumption: seeds that a lawful minimum is worth */
#define COT_PRIOR_MOST 200.0       /* cells that a rate before counts is worth at most where losses are weighed */
#define COT_POTTED_A 98.0          /* house assumption, shown: 98 of 100 plants potted on take */
#define COT_POTTED_B 2.0
#define COT_SHARE_WEIGHT 20.0 /* house assumption: cells that the crop's usable share is worth */

/* Log-odds of the rate at which a seed of the lot gives a usable plant: g ~ Beta(germinated + 1, not + 1), times the
 * house's emergence and usable share; of plants potted on, that of their taking. A share of 0 counts as 1 per mille. */
enum cot_stand_basis cot_rate_before(const struct cot_rate_known *k, struct cot_odds *out);

/* Beta(a, b) with the mean and variance of q over x, its weight a + b cut to COT_PRIOR_MOST. */
void cot_rate_beta(const struct cot_odds *x, cot_usable_of *usable, const void *cell, double *a, double *b);

/* --- Emergence and losses to come ------------------------------------------------------------------------------ */
/* Days from sowing until a seed that will come up has: log-normal, half of them by `median`; where that half lies is
 * itself uncertain. */
struct cot_emergence {
    double median;    /* days; 0: not asked */
    double median_sd; /* of its log */
    double spread;    /* of the log of a seed's days about it */
    int32_t batches;  /* of the house's, counted early and again, that it was learned from */
};
#define COT_EMERGENCE_SD 0.15     /* house assumption, no source: half have come within about 15 % of the day said */
#define COT_EMERGENCE_SPREAD 0.25 /* house assumption, no source: 0.6 to 1.6 of the half's days for 19 of 20 seeds */
#define COT_EMERGENCE_PART                                                                                             \
    0.5 /* house assumption: where a crop doesn't say, half have come in half the days to count */
/* Share come up by `days` after sowing, 1e-6 .. 1, where half have come z standard deviations later than is thought. */
double cot_emerged(const struct cot_emergence *e, int32_t days, double z);

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
    bool picked;                  /* COUNT, POOLED: trays picked by eye */
    bool moved;                   /* LOST: potted on into another batch */
    const int32_t *which;         /* LOST, PATCHED: trays by number */
    size_t which_len;
};
void cot_work_sort(struct cot_work *w, size_t n); /* by day, then place */

struct cot_stand_in {
    int32_t trays;          /* numbered 1..trays; rows of a shared tray: 1 */
    int64_t tray_cells;     /* cells of a tray */
    int64_t cells;          /* sown or filled, at most trays x tray_cells; spread evenly over the trays */
    struct cot_odds before; /* of the batch's seeds before any count of it, its own part in it */
    double rho_weight[COT_RHO_POINTS];
    cot_usable_of *usable; /* NULL: q = s */
    const void *cell;
    double usable_share;     /* of plants that emerged, 0..1 */
    int32_t sown, count_day; /* counts dated before count_day are early; COT_DAY_NONE: none is */
    struct cot_emergence emergence;
    const struct cot_work *work; /* sorted */
    size_t work_len;
};
/* Fills counted .. lost, unseen, fixed, survivors, sa, sb, most, rate, to_come, left of *out, and what was learned of
 * rate and rho where `post` is not NULL (seen: whether anything was). INVALID: no cells but trays, fewer cells than
 * none, or a rate before that is no number. MEMORY. */
struct cot_learned {
    struct cot_post post;
    bool seen;    /* something was counted */
    size_t trays; /* trays counted by number in it */
    bool early;   /* some of it before count_day */
};
COT_MUSTCHECK enum cot_err cot_stand_sum(const struct cot_stand_in *in, struct cot_stand *out,
                                         struct cot_learned *learned);
/* Fills now, then, likely, likely_today, count_on, over, later from the rest, later_share among it, as often as asked;
 * confidence per mille. */
void cot_stand_finish(struct cot_stand *s, int32_t confidence);

/* From N plants at risk, by mean and variance, to those left when each is lost with a share p ~ Beta(1, 1 / later - 1):
 * the law of total variance. later in (0, 1). */
void cot_thin_later(double later, double *mean, double *variance);

/* cot_stand_at at the levels (2i + 1) / (2n), i = 0 .. n-1. MEMORY. */
COT_MUSTCHECK enum cot_err cot_stand_levels(const struct cot_stand *s, int n, int64_t *out);

#endif
