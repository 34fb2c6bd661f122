/* The rate before any count: from seed lot, house and crop. And what may still change after one: emergence. */
#include "stand/calc.h"

#include <math.h>

#include "prob/prob.h"

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

enum cot_stand_basis cot_rate_before(const struct cot_rate_known *k, struct cot_odds *out)
{
    if (k->potted) {
        cot_odds_of_seed(COT_POTTED_A, COT_POTTED_B, 1, out);
        return COT_BASIS_POTTED;
    }
    double germinated, seeds, c = (double)k->emergence / 1000 * ((double)k->usable / 1000);
    enum cot_stand_basis basis = germination(k, &germinated, &seeds);
    cot_odds_of_seed(germinated + 1, seeds - germinated + 1, c < 0.001 ? 0.001 : c > 1 ? 1 : c, out);
    return basis;
}

#define NODES 13 /* on each side, half a standard deviation apart */

void cot_rate_beta(const struct cot_odds *x, cot_usable_of *usable, const void *cell, double *a, double *b)
{
    double all = 0, first = 0, second = 0;
    for (int i = -NODES; i <= NODES; i++) {
        double z = 0.5 * i, w = exp(-0.5 * z * z), s = cot_rate_of_odds(x->mean + z * x->sd);
        double q = usable ? usable(cell, s) : s;
        all += w;
        first += w * q;
        second += w * q * q;
    }
    double mean = first / all, variance = second / all - mean * mean;
    mean = mean < 0.005 ? 0.005 : mean > 0.995 ? 0.995 : mean;
    double weight = variance > 0 ? mean * (1 - mean) / variance - 1 : COT_PRIOR_MOST;
    weight = weight < 0.5 ? 0.5 : weight > COT_PRIOR_MOST ? COT_PRIOR_MOST : weight;
    *a = mean * weight;
    *b = (1 - mean) * weight;
}

double cot_emerged(const struct cot_emergence *e, int32_t days, double z)
{
    double share = days < 1 ? 0 : cot_phi((log((double)days / e->median) - z * e->median_sd) / e->spread);
    return share < 1e-6 ? 1e-6 : share;
}
