/* What the files of sowing share: the moments of a cell, from which plants of any number of trays follow. */
#ifndef COT_CORE_SOW_CALC_H
#define COT_CORE_SOW_CALC_H

#include "cotyledger/core/sow.h"

/* Over all that is not known of a cell's rate q. */
struct cot_sow_moments {
    double mean;   /* E q */
    double single; /* E q(1-q) */
    double own;    /* E var(q | what the batches share) */
    double common; /* var E(q | what they share) */
};
/* From odds x = common + own, both about normal; `common` alone has a mean. */
void cot_sow_moments_of(const struct cot_sow *s, struct cot_sow_moments *out);

/* Plants of n cells, in batches of equal size unless `squares` (sum over batches of their cells squared) says else. */
void cot_sow_mix(const struct cot_sow *s, const struct cot_sow_moments *m, int64_t n, double squares,
                 struct cot_mix *out);
void cot_sow_mix_of_trays(const struct cot_sow *s, const struct cot_sow_moments *m, int64_t trays, struct cot_mix *out);

/* P(plants >= wanted), to 1e-9. */
double cot_mix_ge(const struct cot_mix *m, int64_t wanted);
/* Most plants with P(plants >= that) >= confidence per mille. */
int64_t cot_mix_count_on(const struct cot_mix *m, int32_t confidence);
bool cot_sure(double chance, int32_t confidence); /* chance >= confidence, both to 1e-9 */

COT_MUSTCHECK enum cot_err cot_sow_check_asked(int64_t wanted, int32_t confidence, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_sow_check_trays(int64_t trays, struct cot_fault *fault);

/* The smallest n in low .. high with enough(context, n), which holds from some n on; high + 1 when it never does.
 * Starts at `guess` and doubles its steps from there. */
typedef bool cot_enough_of(const void *context, int64_t n);
int64_t cot_fewest(int64_t low, int64_t high, int64_t guess, cot_enough_of *enough, const void *context);

#endif
