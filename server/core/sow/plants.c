/* Plants of many cells: a mixture over slices of the rate and groups of rho. */
#include <math.h>

#include "cotyledger/core/prob.h"
#include "sow/calc.h"

#define PER_GROUP (COT_RHO_POINTS / COT_SOW_GROUPS)

/* Weight of a group of rho values next to each other, and their mean: the variance of plants is linear in rho, so the
 * group's is exact. */
static double group_of(const double rho_weight[static COT_RHO_POINTS], int group, double *rho)
{
    double weight = 0, sum = 0;
    for (int r = PER_GROUP * group; r < PER_GROUP * (group + 1); r++) {
        weight += rho_weight[r];
        sum += rho_weight[r] * cot_rho_point[r];
    }
    *rho = weight > 0 ? sum / weight : cot_rho_point[PER_GROUP * group];
    return weight;
}

void cot_plants_of(const struct cot_sow_moments *m, const double rho_weight[static COT_RHO_POINTS], int64_t n,
                   int64_t tray_cells, double squares, struct cot_plants *out)
{
    double cells = (double)n;
    *out = (struct cot_plants){.cells = n};
    for (int i = 0; i < COT_SOW_GROUPS * m->slices; i++) {
        const struct cot_slice *s = &m->slice[i / COT_SOW_GROUPS];
        struct cot_mix_part *part = &out->part[i];
        double rho, weight = s->weight * group_of(rho_weight, i % COT_SOW_GROUPS, &rho);
        double tray = 1 + ((double)tray_cells - 1) * rho;
        double variance = cells * (s->single * tray + s->alone) + squares * s->own + cells * cells * s->common;
        cot_mix_match(n, cells * s->mean, variance, part);
        part->weight = weight;
    }
}

void cot_plants_of_trays(const struct cot_sow *s, const struct cot_sow_moments *m, int64_t trays,
                         struct cot_plants *out)
{
    int64_t each = trays / s->batches, more = trays % s->batches; /* `more` batches have each + 1 trays */
    double cells = (double)s->tray_cells, large = (double)(each + 1) * cells, small = (double)each * cells;
    double squares = (double)more * large * large + (double)(s->batches - more) * small * small;
    cot_plants_of(m, s->spread.rho_weight, trays * s->tray_cells, s->tray_cells, squares, out);
}

/* P(X <= k), not rounded. */
static double at_most(const struct cot_plants *p, int64_t k)
{
    double sum = 0;
    int64_t n = p->cells;
    if (k >= n) return 1;
    if (k < 0) return 0;
    if (n > COT_SOW_WALKED) {
        k = (int64_t)(((double)k + 1) / (double)n * COT_SOW_WALKED) - 1;
        n = COT_SOW_WALKED;
    }
    for (int i = 0; i < COT_SOW_PARTS; i++) {
        const struct cot_mix_part *part = &p->part[i];
        if (part->weight > 0) sum += part->weight * cot_betabinom_le(n, part->a, part->b, k);
    }
    return sum < 1 ? sum : 1;
}

double cot_plants_ge(const struct cot_plants *p, int64_t wanted)
{
    return cot_round9(1 - at_most(p, wanted - 1));
}

bool cot_sure(double chance, int32_t confidence)
{
    return chance >= cot_round9((double)confidence / 1000);
}

void cot_plants_moments(const struct cot_plants *p, double *mean, double *variance)
{
    double first = 0, second = 0;
    for (int i = 0; i < COT_SOW_PARTS; i++) {
        const struct cot_mix_part *part = &p->part[i];
        if (!(part->weight > 0)) continue;
        double n = (double)p->cells, all = part->a + part->b, m = n * (part->a / all);
        first += part->weight * m;
        second += part->weight * (m * (part->b / all) * ((all + n) / (all + 1)) + m * m);
    }
    *mean = first;
    *variance = second > first * first ? second - first * first : 0;
}

#define BAND (COT_SOW_SLICES * COT_SOW_GROUPS / COT_RHO_POINTS)

void cot_plants_mix(const struct cot_plants *p, struct cot_mix *out)
{
    *out = (struct cot_mix){.cells = p->cells};
    for (int i = 0; i < COT_RHO_POINTS; i++) {
        struct cot_plants band = {.cells = p->cells};
        double weight = 0, mean, variance;
        for (int j = 0; j < BAND; j++) {
            int from = COT_SOW_GROUPS * (BAND * (i / COT_SOW_GROUPS) + j) + i % COT_SOW_GROUPS;
            band.part[j] = p->part[from];
            weight += band.part[j].weight;
        }
        for (int j = 0; j < BAND && weight > 0; j++) band.part[j].weight /= weight;
        cot_plants_moments(&band, &mean, &variance);
        cot_mix_match(p->cells, mean, variance, &out->part[i]);
        out->part[i].weight = weight;
    }
}

/* --- Numbers ------------------------------------------------------------------------------------------------------ */
struct short_of {
    const struct cot_plants *plants;
    double chance;
};

static bool not_likely(const void *context, int64_t plants)
{
    const struct short_of *c = context;
    return cot_plants_ge(c->plants, plants) < c->chance;
}

int64_t cot_plants_count_on(const struct cot_plants *p, int32_t confidence)
{
    double mean, variance, chance = (double)confidence / 1000;
    struct short_of c = {p, cot_round9(chance)};
    cot_plants_moments(p, &mean, &variance);
    double guess = mean - cot_phi_inv(chance) * sqrt(variance);
    return cot_fewest(1, p->cells, guess > 1 ? (int64_t)guess : 1, not_likely, &c) - 1;
}

static bool half(const void *context, int64_t plants)
{
    return cot_round9(at_most(context, plants)) >= 0.5;
}

int64_t cot_plants_likely(const struct cot_plants *p)
{
    double mean, variance;
    cot_plants_moments(p, &mean, &variance);
    return cot_fewest(0, p->cells, (int64_t)mean, half, p);
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
