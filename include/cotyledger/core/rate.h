/* Rates and how they differ: what sowing, stand and chance have in common.
 *
 * A seed gives a usable plant with rate s = g.e.u (lot's germination, the house's emergence relative to the test, share
 * fit to go). A cell is usable when at least m of its K seeds give one: q(s). On the log-odds scale x = log(s / (1-s))
 *
 *     x of a batch = x of its lot + shift of the crop in this house + batch's own,   batch's own ~ N(0, between^2)
 *
 * and the cells of a tray are alike: tray's rate ~ Beta(q/rho (1-rho) ...), that is Beta(a, b) with a/(a+b) = q and
 * 1/(a+b+1) = rho (Crowder 1978, Applied Statistics 27:34-37). rho is not known but has a weight at each of
 * COT_RHO_POINTS values. Plants among cells are then a mixture of beta-binomials, one a value of rho. The sum over
 * trays is matched to one beta-binomial in mean and variance: exact in both. How far a P(X <= k) is off at most hangs
 * on how open the rate is, sd on the log-odds scale: up to 0.4 by 0.5 %, 0.6: 1 %, 0.8: 2 %; where a cell needs several
 * plants 0.6 %, 3 % and 5 % (measured: tests/core/stand/rate_test.c; a test of 400 seeds leaves some 0.4, one of 50
 * some 0.6). */
#ifndef COTYLEDGER_CORE_RATE_H
#define COTYLEDGER_CORE_RATE_H

#include <stdint.h>

#define COT_RHO_POINTS 9
extern const double cot_rho_point[COT_RHO_POINTS]; /* rising, 0.002 .. 0.4 in equal ratios */
#define COT_RHO_CENTRE 0.02                        /* house assumption, no source: half of all batches have less */
#define COT_RHO_FACTOR 3.0                         /* house assumption: two of three within this factor of it */
#define COT_BETWEEN_ASSUMED 0.35 /* house assumption, log-odds: at 90 % two batches of three come to 86 .. 93 % */
#define COT_SHIFT_SD 0.2         /* house assumption, log-odds */
#define COT_CELLS_WALKED                                                                                               \
    65536 /* more cells than this are taken in bundles: the spread of the rate is kept, that of                        \
             single cells a little overstated */

/* How batches of a crop and trays of a batch differ in this house. The assumption where the house has no history, and
 * what its own counted batches make of that (an empirical-Bayes reading, stand/lore.c). */
struct cot_spread {
    double shift, shift_sd;            /* log-odds; 0 and its sd before any count */
    double between;                    /* log-odds, sd of a batch about its lot and crop */
    double rho_weight[COT_RHO_POINTS]; /* sums to 1 */
    int32_t batches;                   /* counted batches of the crop that this was learned from; 0: assumed */
};
void cot_spread_assumed(struct cot_spread *out);

/* A quantity on the log-odds scale, about normal. */
struct cot_odds {
    double mean, sd;
};
/* Of a seed's rate, from a germination g ~ Beta(a, b) and a factor c = e.u in (0, 1]: mean and sd of log(gc / (1-gc)),
 * summed over the log-odds of g, absolute error below 1e-9. a, b from 0.5 to 1e9. NaN for any other figures. */
void cot_odds_of_seed(double a, double b, double c, struct cot_odds *out);

/* The rate at log-odds x, and back. */
double cot_rate_of_odds(double x);
double cot_odds_of_rate(double s);

/* Plants among `cells`: P(X <= k) = sum of weight x beta-binomial(cells; a, b). Parts of weight 0 may stand; the
 * weights sum to 1. Parts without sense (NaN, a or b not above 0) make every answer NaN, a number of plants 0. */
struct cot_mix {
    int64_t cells;
    struct cot_mix_part {
        double weight, a, b;
    } part[COT_RHO_POINTS];
};
/* Cells spread over `trays` of tray_cells each, the cells' rate q(x), x ~ seed's odds about the batch: mean and
 * variance of each part by quadrature over x. `usable` is q(s) with its context; NULL: one seed in each cell, q = s.
 * trays >= 1, tray_cells >= 1. */
typedef double cot_usable_of(const void *context, double s);
void cot_mix_before(const struct cot_odds *batch, const double rho_weight[static COT_RHO_POINTS], int64_t trays,
                    int64_t tray_cells, cot_usable_of *usable, const void *context, struct cot_mix *out);
/* The beta-binomial part of `cells` cells with this mean and variance of plants; bent into range where no beta-binomial
 * has them. */
void cot_mix_match(int64_t cells, double mean, double variance, struct cot_mix_part *out);

/* P(X <= k), rounded to 1e-9; smallest k with P(X <= k) >= u; and those at the levels (2i + 1) / (2n) in one walk. */
double cot_mix_le(const struct cot_mix *m, int64_t k);
int64_t cot_mix_quantile(const struct cot_mix *m, double u);
void cot_mix_quantiles(const struct cot_mix *m, const double *u, int n, int64_t *out); /* u rising: one walk */
void cot_mix_levels(const struct cot_mix *m, int n, int64_t *out);
double cot_mix_mean(const struct cot_mix *m);
double cot_mix_variance(const struct cot_mix *m);

#endif
