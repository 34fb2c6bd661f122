/* The rate of usable cells before any count: from seed lot, house and crop. */
#include "stand/calc.h"

#include <math.h>

#include "prob/prob.h"

#define PER_CELL_MOST 30

/* P(at least m of j seeds give a usable plant | each of the j germinated), a germinated seed doing so with rate c. */
static double enough(int64_t j, double c, int64_t m)
{
    return cot_binom_ge(j, c, m);
}

static double choose_log(int64_t n, int64_t k)
{
    return cot_lgamma((double)n + 1) - cot_lgamma((double)k + 1) - cot_lgamma((double)(n - k) + 1);
}

/* First two moments of q = P(at least m usable of K seeds) over g ~ Beta(a, b), exactly: the germinated seeds of one
 * cell, and of two cells that share g, are beta-binomial. All terms are positive. */
static void cell_moments(double a, double b, double c, int64_t per_cell, int64_t m, double *mean, double *square)
{
    double p[PER_CELL_MOST + 1], ways[PER_CELL_MOST + 1], both[2 * PER_CELL_MOST + 1];
    for (int64_t j = 0; j <= per_cell; j++) {
        p[j] = enough(j, c, m);
        ways[j] = choose_log(per_cell, j);
    }
    double base = cot_lbeta(a, b);
    for (int64_t j = 0; j <= 2 * per_cell; j++)
        both[j] = cot_lbeta(a + (double)j, b + (double)(2 * per_cell - j)) - base;
    *mean = *square = 0;
    for (int64_t i = 0; i <= per_cell; i++) {
        *mean += p[i] * cot_betabinom_pmf(per_cell, a, b, i);
        for (int64_t j = 0; j <= per_cell; j++) *square += p[i] * p[j] * exp(ways[i] + ways[j] + both[i + j]);
    }
}

/* Beta with this mean and variance; a rate that is certain, or wider than any Beta, is bent into range. */
static void match_beta(double mean, double variance, double *a, double *b)
{
    mean = mean < 0.005 ? 0.005 : mean > 0.995 ? 0.995 : mean;
    double weight = variance > 0 ? mean * (1 - mean) / variance - 1 : COT_PRIOR_MOST;
    weight = weight < 0.5 ? 0.5 : weight > COT_PRIOR_MOST ? COT_PRIOR_MOST : weight;
    *a = mean * weight;
    *b = (1 - mean) * weight;
}

/* What is known of the lot's germination, as so many of so many seeds. */
static enum cot_stand_basis germination(const struct cot_rate_known *k, double *germinated, double *seeds)
{
    if (k->test_seeds > 0) {
        *seeds = (double)k->test_seeds;
        *germinated = (double)(k->test_germ < k->test_seeds ? k->test_germ : k->test_seeds);
        return COT_BASIS_TEST;
    }
    int64_t share = k->label >= 0 ? k->label : k->lawful;
    *seeds = share < 0 ? 0 : k->label >= 0 ? (double)k->assumed_seeds : COT_LAWFUL_SEEDS;
    *germinated = share < 0 ? 0 : *seeds * (double)share / 1000;
    return k->label >= 0 ? COT_BASIS_LABEL : share >= 0 ? COT_BASIS_LAWFUL : COT_BASIS_NOTHING;
}

enum cot_stand_basis cot_rate_before(const struct cot_rate_known *k, double *a, double *b)
{
    if (k->potted) {
        *a = COT_POTTED_A;
        *b = COT_POTTED_B;
        return COT_BASIS_POTTED;
    }
    double germinated, seeds, mean, square;
    enum cot_stand_basis basis = germination(k, &germinated, &seeds);
    double c = (double)k->emergence / 1000 * ((double)k->usable / 1000);
    int64_t per_cell = k->per_cell < 1 ? 1 : k->per_cell > PER_CELL_MOST ? PER_CELL_MOST : k->per_cell;
    int64_t m = k->at_least < 1 ? 1 : k->at_least;
    cell_moments(germinated + 1, seeds - germinated + 1, c, per_cell, m, &mean, &square);
    match_beta(mean, square - mean * mean, a, b);
    return basis;
}
