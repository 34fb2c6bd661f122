/* Is it believable: a laboratory's replicates, a test against a label, trays of a batch against each other, a batch
 * against its lot, and where the cause of a poor stand is to be looked for.
 *
 * Plain figures first: the caller's arrays, nothing allocated. Then readings of the book. Nothing here changes a
 * figure; it says which figures to look at again. Chances are rounded to 1e-9. */
#ifndef COTYLEDGER_CORE_CHECK_H
#define COTYLEDGER_CORE_CHECK_H

#include "cotyledger/core/book.h"
#include "cotyledger/core/rate.h"

/* --- A germination test ------------------------------------------------------------------------------------------ */
#define COT_REPLICATES_MOST 40

/* Seeds germinated in each replicate. */
struct cot_replicates {
    int count; /* 2 .. COT_REPLICATES_MOST */
    int32_t germinated[COT_REPLICATES_MOST];
};
/* Text as a lot carries it: whole numbers, one space between them, "96 94 97 95". MALFORMED otherwise. */
COT_MUSTCHECK enum cot_err cot_replicates_read(const char *text, size_t len, struct cot_replicates *out,
                                               struct cot_fault *fault);
/* Whether replicates fit a test: seeds split evenly among them, none germinated more than it has, the sum is what
 * germinated. Negative figures are not known and fit anything. INVALID with the first misfit in words. */
COT_MUSTCHECK enum cot_err cot_replicates_fit(const struct cot_replicates *r, int64_t seeds, int64_t germinated,
                                              struct cot_fault *fault);

/* The largest range that replicates of 100 seeds may have: 7 CFR 201.55(a), for 2 or 4 replicates and an average of 2
 * to 99 percent, rounded to a whole one; a low average is looked up as 101 less it. -1 where nothing is printed. */
int cot_range_most(int replicates, int average);

enum cot_range_verdict {
    COT_RANGE_FITS,
    COT_RANGE_RETEST,  /* highest less lowest exceeds the table: test again */
    COT_RANGE_NO_TABLE /* not 2 or 4 replicates of 100, or no figure printed: `chance` alone */
};
struct cot_range {
    int32_t seeds_each, lowest, highest;
    int average;   /* percent, halves rounded up */
    int most;      /* seeds; -1: no published table */
    double chance; /* of a range this wide or wider, were every seed alike: replicates binomial at the average rate */
    enum cot_range_verdict verdict;
};
/* INVALID: what cot_replicates_fit refuses, or no seeds. */
COT_MUSTCHECK enum cot_err cot_check_range(const struct cot_replicates *r, int64_t seeds, struct cot_range *out,
                                           struct cot_fault *fault);

/* 7 CFR 201.63: percent by which two results on 400 seeds or more may differ, by their mean in percent. -1: not
 * 0..100. */
int cot_tolerance(double mean);

#define COT_TOLERANCE_SEEDS 400 /* fewer seeds: no published tolerance here */
struct cot_result {
    int64_t germinated, seeds; /* seeds 0: a label */
    double percent;            /* read for a label; filled in for a test */
};
struct cot_agreement {
    double mean, difference; /* percent; difference: first less second */
    int most;                /* percent; -1: fewer than 400 seeds tested, no published tolerance */
    bool within;             /* |difference| <= most; without a table: chance not below COT_CHECK_RARE */
    double chance;           /* of a difference as great or greater in this direction, were both of one seed */
};
/* A test against a label (first the test), or a test against a test. The chance: binomial at the label's rate, or
 * hypergeometric given the sum. INVALID: no seeds, more germinated than tested, a percentage not in 0..100, two labels.
 */
COT_MUSTCHECK enum cot_err cot_check_agreement(struct cot_result *first, struct cot_result *second,
                                               struct cot_agreement *out, struct cot_fault *fault);

/* --- Trays against each other --------------------------------------------------------------------------------------
 */
/* What comes by chance in fewer than one of so many is shown. House assumption: of 100 batches with nothing amiss, one
 * has a tray called unlike the others, and one is called low. */
#define COT_CHECK_RARE 0.01
#define COT_CHECK_TRAYS_MOST 10000
#define COT_CHECK_CELLS_MOST 40000 /* of a tray; 200 rows of 200 */

struct cot_check_tray {
    int32_t tray, looked, usable;
    double chance; /* of a tray as far out as this to either side, given the others */
    bool unlike;   /* chance x trays below COT_CHECK_RARE */
};
/* Each tray against what the others make of it: the batch's rate (before the others: any as likely as another, Bayes
 * 1763) and rho (weights of struct cot_spread) are learned from the other trays, then P(X <= usable) and P(X >= usable)
 * of a beta-binomial over this one's cells; twice the smaller. With one tray the chance is 1. INVALID: no cell looked
 * at, or more than COT_CHECK_CELLS_MOST, more usable than looked at, weights that do not sum to 1; TOO_LARGE: more than
 * COT_CHECK_TRAYS_MOST. */
COT_MUSTCHECK enum cot_err cot_check_trays(struct cot_check_tray *tray, size_t n,
                                           const double rho_weight[static COT_RHO_POINTS], struct cot_fault *fault);

/* --- A batch against its lot ----------------------------------------------------------------------------------------
 */
/* A counted batch, and what was to be expected of it before any count. */
struct cot_check_stand {
    int64_t trays;          /* looked at */
    int64_t looked, usable; /* cells */
    struct cot_odds odds;   /* of a seed: the lot's germination, and how batches of the crop differ in the house */
    cot_usable_of *cell;    /* NULL: one seed in a cell */
    const void *context;
};
struct cot_check_low {
    double expected; /* usable cells among those looked at */
    double chance;   /* of so few or fewer */
    bool low;        /* chance below COT_CHECK_RARE */
};
COT_MUSTCHECK enum cot_err cot_check_low(const struct cot_check_stand *s,
                                         const double rho_weight[static COT_RHO_POINTS], struct cot_check_low *out,
                                         struct cot_fault *fault);

/* --- Seed or house -------------------------------------------------------------------------------------------------
 */
/* How much likelier another batch's count is if it shares what made `poor` low (its odds moved as far as poor's were)
 * than if it does not: natural logarithm, within -20 .. 20. */
COT_MUSTCHECK enum cot_err cot_check_shares(const struct cot_check_stand *poor, const struct cot_check_stand *other,
                                            const double rho_weight[static COT_RHO_POINTS], double *out,
                                            struct cot_fault *fault);

#define COT_CHECK_EVIDENCE 2.302585092994046 /* log 10: ten to one, before a word is said */
enum cot_points {
    COT_POINTS_NONE,   /* can't tell: no other batch to compare */
    COT_POINTS_UNSURE, /* can't tell: the others do not say */
    COT_POINTS_BOTH,   /* can't tell: the lot's other batches and that day's other lots are both poor */
    COT_POINTS_SEED,
    COT_POINTS_HOUSE,
    COT_POINTS_BATCH /* neither: the lot stands well elsewhere, and what was sown that day too */
};
/* From other batches of the lot sown on other days, and batches of other lots sown that day: how many, and the sum of
 * their cot_check_shares. */
enum cot_points cot_check_cause(size_t lot_batches, double lot_evidence, size_t day_batches, double day_evidence);
/* "points at the seed", "can't tell: no other batch to compare", ... */
const char *cot_points_word(enum cot_points c);

/* --- Readings --------------------------------------------------------------------------------------------------------
 */
struct cot_check_batch {
    struct cot_check_tray *tray; /* by number: trays drawn and their usable plants counted before anything was lost from
                                    them, patched into them, or went out of the batch */
    size_t trays, unlike;
    int64_t looked, usable; /* in those trays, or in the pooled count */
    bool counted;           /* some count can be used */
    bool early;             /* before the crop's stand-count day: not held against the lot */
    bool compared;          /* held against the lot: `low` is filled in */
    bool assumed;           /* the house has no history of the crop: its spread is an assumption */
    struct cot_check_low low;
    enum cot_points points; /* read when low.low */
    size_t lot_batches, day_batches;
};
/* As known on day `on`. Errors: NOT_FOUND (no batch that stands), MEMORY. Free in any case. */
COT_MUSTCHECK enum cot_err cot_check_batch(struct cot_book *b, const struct cot_thing *batch, int32_t on,
                                           struct cot_check_batch *out);
void cot_check_batch_free(struct cot_check_batch *c);

struct cot_check_lot {
    bool has_range, has_label, has_before;
    struct cot_range range;          /* of the test's replicates */
    struct cot_agreement label;      /* the test against the label */
    struct cot_agreement before;     /* the test against the lot's test before it */
    struct cot_result test, earlier; /* the two tests */
    int32_t earlier_day;             /* COT_DAY_NONE: not known */
    char misfit[160];                /* why the replicates do not fit the test; "" when they do or there are none */
};
/* NOT_FOUND: no lot. */
COT_MUSTCHECK enum cot_err cot_check_lot(struct cot_book *b, const struct cot_thing *lot, struct cot_check_lot *out);

#endif
