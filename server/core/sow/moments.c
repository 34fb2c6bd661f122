/* A cell's moments, and the plants of many cells. */
#include "sow/calc.h"

#include <math.h>

#include "cotyledger/core/prob.h"

#define NODES 13 /* on each side, half a standard deviation apart: as cot_mix_before has them */

static double weight_at(int i)
{
    double z = 0.5 * i;
    return exp(-0.5 * z * z);
}

/* E q and E q^2 over x ~ N(mean, sd^2). */
static void over_odds(const struct cot_cell *cell, double mean, double sd, double *first, double *second)
{
    double all = 0, sum = 0, squares = 0;
    for (int i = -NODES; i <= NODES; i++) {
        double w = weight_at(i), q = cot_cell_usable(cell, cot_rate_of_odds(mean + 0.5 * i * sd));
        all += w;
        sum += w * q;
        squares += w * q * q;
    }
    *first = sum / all;
    *second = squares / all;
}

/* var E(q | common): the inner mean at each node of what the batches share. */
static double shared_variance(const struct cot_cell *cell, double mean, double common_sd, double own_sd)
{
    double all = 0, sum = 0, squares = 0;
    for (int i = -NODES; i <= NODES; i++) {
        double w = weight_at(i), first, second;
        over_odds(cell, mean + 0.5 * i * common_sd, own_sd, &first, &second);
        all += w;
        sum += w * first;
        squares += w * first * first;
    }
    double variance = squares / all - sum / all * (sum / all);
    return variance > 0 ? variance : 0;
}

void cot_sow_moments_of(const struct cot_sow *s, struct cot_sow_moments *out)
{
    struct cot_odds lot;
    const struct cot_spread *p = &s->spread;
    cot_odds_of_seed(s->germ_a, s->germ_b, s->emerge * s->fit * s->keep, &lot);
    double mean = lot.mean + p->shift, first, second;
    double common_sd = sqrt(lot.sd * lot.sd + p->shift_sd * p->shift_sd);
    over_odds(&s->cell, mean, sqrt(common_sd * common_sd + p->between * p->between), &first, &second);
    double variance = second - first * first;
    if (variance < 0) variance = 0;
    *out = (struct cot_sow_moments){.mean = first, .single = first - second, .own = variance};
    if (s->batches == 1) return;
    out->common = shared_variance(&s->cell, mean, common_sd, p->between);
    if (out->common > variance) out->common = variance;
    out->own = variance - out->common;
}

void cot_sow_mix(const struct cot_sow *s, const struct cot_sow_moments *m, int64_t n, double squares,
                 struct cot_mix *out)
{
    double cells = (double)n;
    if (!(squares > 0)) squares = cells * cells / (double)s->batches;
    out->cells = n;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double tray = 1 + ((double)s->tray_cells - 1) * cot_rho_point[r];
        double variance = cells * m->single * tray + squares * m->own + cells * cells * m->common;
        cot_mix_match(n, cells * m->mean, variance, &out->part[r]);
        out->part[r].weight = s->spread.rho_weight[r];
    }
}

void cot_sow_mix_of_trays(const struct cot_sow *s, const struct cot_sow_moments *m, int64_t trays, struct cot_mix *out)
{
    int64_t each = trays / s->batches, more = trays % s->batches; /* `more` batches have each + 1 trays */
    double cells = (double)s->tray_cells, large = (double)(each + 1) * cells, small = (double)each * cells;
    double squares = (double)more * large * large + (double)(s->batches - more) * small * small;
    cot_sow_mix(s, m, trays * s->tray_cells, squares, out);
}

double cot_mix_ge(const struct cot_mix *m, int64_t wanted)
{
    return cot_round9(1 - cot_mix_le(m, wanted - 1));
}

bool cot_sure(double chance, int32_t confidence)
{
    return chance >= cot_round9((double)confidence / 1000);
}

struct short_of {
    const struct cot_mix *mix;
    int32_t confidence;
};

static bool not_sure(const void *context, int64_t plants)
{
    const struct short_of *c = context;
    return !cot_sure(cot_mix_ge(c->mix, plants), c->confidence);
}

int64_t cot_mix_count_on(const struct cot_mix *m, int32_t confidence)
{
    struct short_of c = {m, confidence};
    int64_t guess = cot_mix_quantile(m, 1 - (double)confidence / 1000);
    return cot_fewest(1, m->cells, guess + 1, not_sure, &c) - 1;
}

int64_t cot_fewest(int64_t low, int64_t high, int64_t guess, cot_enough_of *enough, const void *context)
{
    int64_t bad = low - 1, good = high + 1; /* the answer lies in bad + 1 .. good */
    int64_t at = guess < low ? low : guess > high ? high : guess;
    for (int64_t step = 1; bad + 1 < good; step *= 2) {
        if (enough(context, at)) {
            good = at;
            at -= step;
        } else {
            bad = at;
            at += step;
        }
        if (at <= bad || at >= good) at = bad + (good - bad) / 2;
    }
    return good;
}
