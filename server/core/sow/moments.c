/* A cell's moments by slices of what the batches share. */
#include "sow/calc.h"

#include <math.h>

#define FURTHEST 6.0 /* standard deviations; beyond is less than 2e-9 */
#define INNER 2.2    /* slices of equal width up to here, and one beyond on either side */

/* Gauss-Legendre on -1 .. 1 with twelve points (DLMF 3.5.15): the positive half. */
#define POINTS 12
static const double node[POINTS / 2] = {
    0.12523340851146894, 0.3678314989981802, 0.5873179542866175,
    0.7699026741943047,  0.9041172563704748, 0.9815606342467192,
};
static const double node_weight[POINTS / 2] = {
    0.24914704581340288, 0.23349253653835478, 0.20316742672306584,
    0.16007832854334633, 0.10693932599531857, 0.047175336386511835,
};

static double rate(const struct cot_cell *cell, double odds)
{
    double s = cot_rate_of_odds(odds);
    return cell ? cot_cell_usable(cell, s) : s;
}

/* E q and E q^2 over the batch's own part, at equal steps of half a standard deviation. */
static void over_own(const struct cot_cell *cell, double about, double sd, double *first, double *second)
{
    double all = 0, sum = 0, squares = 0;
    if (!(sd > 0)) {
        *first = rate(cell, about);
        *second = *first * *first;
        return;
    }
    for (int i = -13; i <= 13; i++) {
        double z = 0.5 * i, w = exp(-0.5 * z * z), q = rate(cell, about + z * sd);
        all += w;
        sum += w * q;
        squares += w * q * q;
    }
    *first = sum / all;
    *second = squares / all;
}

/* One slice: the shared part from `low` to `high` standard deviations. */
static void slice_of(const struct cot_odds *shared, double own_sd, const struct cot_cell *cell, double low, double high,
                     struct cot_slice *out)
{
    double all = 0, sum = 0, among = 0, within = 0;
    for (int i = 0; i < POINTS; i++) {
        int k = i / 2;
        double z = (low + high) / 2 + (i % 2 == 0 ? -1 : 1) * node[k] * (high - low) / 2, first, second;
        double w = node_weight[k] * exp(-0.5 * z * z);
        over_own(cell, shared->mean + z * shared->sd, own_sd, &first, &second);
        all += w;
        sum += w * first;
        among += w * first * first;
        within += w * second;
    }
    double mean = sum / all, common = among / all - mean * mean, own = (within - among) / all;
    *out = (struct cot_slice){.weight = all * (high - low),
                              .mean = mean,
                              .single = mean - within / all,
                              .own = own > 0 ? own : 0,
                              .common = common > 0 ? common : 0};
}

static double edge(int i, int slices)
{
    if (i == 0) return -FURTHEST;
    if (i == slices) return FURTHEST;
    return slices == 2 ? 0 : -INNER + 2 * INNER * (i - 1) / (slices - 2);
}

void cot_slices_of(const struct cot_odds *shared, double own_sd, const struct cot_cell *cell, int slices,
                   struct cot_sow_moments *out)
{
    double all = 0;
    *out = (struct cot_sow_moments){.slices = slices};
    for (int i = 0; i < slices; i++) {
        slice_of(shared, own_sd, cell, edge(i, slices), edge(i + 1, slices), &out->slice[i]);
        all += out->slice[i].weight;
    }
    for (int i = 0; i < slices; i++) out->slice[i].weight /= all;
}

void cot_sow_moments_of(const struct cot_sow *s, struct cot_sow_moments *out)
{
    struct cot_odds lot, shared;
    const struct cot_spread *p = &s->spread;
    double own_sd = s->batches > 1 ? p->between : 0; /* one batch: all that is not known is its own to share */
    cot_odds_of_seed(s->germ_a, s->germ_b, s->emerge * s->fit * s->keep, &lot);
    shared.mean = lot.mean + p->shift;
    shared.sd = sqrt(lot.sd * lot.sd + p->shift_sd * p->shift_sd + (s->batches > 1 ? 0 : p->between * p->between));
    cot_slices_of(&shared, own_sd, &s->cell, COT_SOW_SLICES, out);
}

void cot_moments_known(double q, struct cot_sow_moments *out)
{
    *out = (struct cot_sow_moments){.slices = 1, .slice = {{.weight = 1, .mean = q, .single = q * (1 - q)}}};
}
