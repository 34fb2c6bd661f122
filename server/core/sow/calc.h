/* What the files of sowing share: the moments of a cell, from which plants of any number of trays follow. */
#ifndef COT_CORE_SOW_CALC_H
#define COT_CORE_SOW_CALC_H

#include "cotyledger/core/sow.h"

/* The log-odds that all batches share are cut into slices; within each, over all that is not known of a cell's rate q.
 */
struct cot_sow_moments {
    int slices;
    struct cot_slice {
        double weight; /* sums to 1 */
        double mean;   /* E q */
        double single; /* variance of a cell that cells of its tray share by rho: E q(1-q) */
        double alone;  /* and that they don't: which plants are lost later */
        double own;    /* E var(q | what the batches share) */
        double common; /* var E(q | what they share) */
    } slice[COT_SOW_SLICES];
};
/* From odds x = shared + own, both about normal, own about 0. `cell` NULL: q is the rate itself. Of what is usable a
 * share ~ Beta(1, 1/later - 1), the batch's own, is lost later. */
void cot_slices_of(const struct cot_odds *shared, double own_sd, const struct cot_cell *cell, double later, int slices,
                   struct cot_sow_moments *out);
void cot_sow_moments_of(const struct cot_sow *s, struct cot_sow_moments *out);
/* Both known. */
void cot_moments_known(double q, double later, struct cot_sow_moments *out);
/* The odds that batches share, and from them the shift that there is of the germination, emergence and usable share. */
void cot_sow_common(const struct cot_sow *s, struct cot_odds *common, double *shift);

/* Plants of n cells, the trays of tray_cells; `squares` is the sum over batches of their cells squared. Slice j
 * and group g of rho make part[COT_SOW_GROUPS j + g]. */
void cot_plants_of(const struct cot_sow_moments *m, const double rho_weight[static COT_RHO_POINTS], int64_t n,
                   int64_t tray_cells, double squares, struct cot_plants *out);
void cot_plants_of_trays(const struct cot_sow *s, const struct cot_sow_moments *m, int64_t trays,
                         struct cot_plants *out);
bool cot_sure(double chance, int32_t confidence); /* chance >= confidence, both to 1e-9 */

COT_MUSTCHECK enum cot_err cot_sow_check_asked(int64_t wanted, int32_t confidence, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_sow_check_trays(int64_t trays, struct cot_fault *fault);

/* The smallest n in low .. high with enough(context, n), which holds from some n on; high + 1 when it never does.
 * Starts at `guess` and doubles its steps from there. */
typedef bool cot_enough_of(const void *context, int64_t n);
int64_t cot_fewest(int64_t low, int64_t high, int64_t guess, cot_enough_of *enough, const void *context);

#endif
