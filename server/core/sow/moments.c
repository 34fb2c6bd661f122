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

/* Of what is usable a share is lost later: by the law of total variance again. */
static void thin(double later, double within, double among, struct cot_slice *s)
{
    double keep = 1 - later, spread = later > 0 ? later * keep / (1 / later + 1) : 0, square = keep * keep + spread;
    double own = within * square - among * keep * keep, common = (among - s->mean * s->mean) * keep * keep;
    s->single = (s->mean - within) * square;
    s->alone = s->mean * (keep - square);
    s->own = own > 0 ? own : 0;
    s->common = common > 0 ? common : 0;
    s->mean *= keep;
}

/* One slice: the shared part from `low` to `high` standard deviations. */
static void slice_of(const struct cot_odds *shared, double own_sd, const struct cot_cell *cell, double later,
                     double low, double high, struct cot_slice *out)
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
    *out = (struct cot_slice){.weight = all * (high - low), .mean = sum / all};
    thin(later, within / all, among / all, out);
}

static double edge(int i, int slices)
{
    if (i == 0) return -FURTHEST;
    if (i == slices) return FURTHEST;
    return slices == 2 ? 0 : -INNER + 2 * INNER * (i - 1) / (slices - 2);
}

void cot_slices_of(const struct cot_odds *shared, double own_sd, const struct cot_cell *cell, double later, int slices,
                   struct cot_sow_moments *out)
{
    double all = 0;
    *out = (struct cot_sow_moments){.slices = slices};
    for (int i = 0; i < slices; i++) {
        slice_of(shared, own_sd, cell, later, edge(i, slices), edge(i + 1, slices), &out->slice[i]);
        all += out->slice[i].weight;
    }
    for (int i = 0; i < slices; i++) out->slice[i].weight /= all;
}

void cot_sow_common(const struct cot_sow *s, struct cot_odds *common, double *shift)
{
    struct cot_odds lot;
    cot_odds_of_seed(s->germ_a, s->germ_b, s->emerge * s->fit, &lot);
    *common = s->common;
    if (!s->learned) {
        common->mean = lot.mean + s->spread.shift;
        common->sd = sqrt(lot.sd * lot.sd + s->spread.shift_sd * s->spread.shift_sd);
    }
    *shift = common->mean - lot.mean;
}

/* One batch: all that is not known is its own to share. */
void cot_sow_moments_of(const struct cot_sow *s, struct cot_sow_moments *out)
{
    struct cot_odds shared;
    double shift, own_sd = s->spread.between;
    cot_sow_common(s, &shared, &shift);
    if (s->batches == 1) {
        shared.sd = sqrt(shared.sd * shared.sd + own_sd * own_sd);
        own_sd = 0;
    }
    cot_slices_of(&shared, own_sd, &s->cell, s->later, COT_SOW_SLICES, out);
}

void cot_moments_known(double q, double later, struct cot_sow_moments *out)
{
    double keep = 1 - later;
    *out = (struct cot_sow_moments){
        .slices = 1,
        .slice = {
            {.weight = 1, .mean = q * keep, .single = q * (1 - q) * keep * keep, .alone = q * keep * (1 - keep)}}};
}
