/* The plants of a batch, today and on the collecting day, from what was seen and what is left open. */
#include "stand/calc.h"

#include <math.h>
#include <stdbool.h>

#include "prob/prob.h"

static int64_t bend(const struct cot_stand *s, int64_t plants, int64_t out)
{
    plants = plants < 0 ? 0 : plants > s->most ? s->most : plants;
    return plants < out ? out : plants;
}

int64_t cot_stand_at(const struct cot_stand *s, double u)
{
    return bend(s, s->then_base + cot_mix_quantile(&s->then, u), s->out);
}

static int64_t today_at(const struct cot_stand *s, double u, int64_t out)
{
    return bend(s, s->now_base + cot_mix_quantile(&s->now, u), out);
}

enum cot_err cot_stand_levels(const struct cot_stand *s, int n, int64_t *out)
{
    cot_mix_levels(&s->then, n, out);
    for (int i = 0; i < n; i++) out[i] = bend(s, s->then_base + out[i], s->out);
    return COT_OK;
}

static double part_mean(const struct cot_mix_part *p, double cells)
{
    return cells * (p->a / (p->a + p->b));
}

static double part_variance(const struct cot_mix_part *p, double cells)
{
    double all = p->a + p->b;
    return cells * (p->a / all) * (p->b / all) * ((all + cells) / (all + 1));
}

/* Survivors of which an unknown part is usable, Beta(sa, sb), with the cells not seen: low where these are low. */
static void add_survivors(const struct cot_stand *s, struct cot_mix *out)
{
    *out = s->left;
    if (s->survivors <= 0) return;
    const struct cot_mix_part share = {1, s->sa, s->sb};
    double n = (double)s->survivors, more = part_mean(&share, n), sd = sqrt(part_variance(&share, n));
    out->cells += s->survivors;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        const struct cot_mix_part *p = &s->left.part[r];
        double cells = (double)s->left.cells, own = sqrt(part_variance(p, cells));
        cot_mix_match(out->cells, part_mean(p, cells) + more, (own + sd) * (own + sd), &out->part[r]);
    }
}

void cot_thin_later(double later, double *mean, double *variance)
{
    double keep = 1 - later, b = 1 / later - 1, spread = later * keep / (b + 2), square = *variance + *mean * *mean;
    double cell = keep - (keep * keep + spread); /* of k (1 - k) */
    *variance = keep * keep * *variance + spread * square + *mean * (cell > 0 ? cell : 0);
    *mean *= keep;
}

/* Cells that plants with this mean and variance below `top` may stand in, no more than `cells`: of more no
 * beta-binomial is as narrow. */
static int64_t fitting(int64_t cells, double top, double mean, double variance)
{
    double below = top - mean, most = below > variance ? below * below / (below - variance) : (double)cells;
    if (most < 1) most = 1;
    return most < (double)cells ? (int64_t)most : cells;
}

/* The share k that is kept, 1 - k ~ Beta(1, 1 / later - 1), in slices: what is lost has a long tail that mean and
 * variance alone would cut short. k = u^(1/b), u uniform. The parts are shared out between it and rho: three and three,
 * or all to what is lost where most is open about that. */
#define SLICES 3
static const double slice_end[SLICES + 1] = {0, 0.15, 0.5, 1}; /* of u: much lost, some, little */
#define FINE COT_RHO_POINTS
static const double fine_end[FINE + 1] = {0, 0.012, 0.04, 0.1, 0.2, 0.35, 0.5, 0.68, 0.86, 1};
#define MOST_OPEN 2.0 /* variance by the loss over that of the plants at risk, from which the slices are fine */

struct kept {
    double weight, mean, square;
};

static double power_sum(double from, double to, double e) /* integral of u^e */
{
    double low = from > 0 ? exp((e + 1) * log(from)) : 0;
    return (exp((e + 1) * log(to)) - low) / (e + 1);
}

static void slice_of(double later, double from, double to, struct kept *k)
{
    double one = 1 / (1 / later - 1), width = to - from;
    *k = (struct kept){width, power_sum(from, to, one) / width, power_sum(from, to, 2 * one) / width};
}

/* Plants at risk for some values of rho together. */
struct risk {
    double weight, mean, variance;
};

static void group(const struct cot_stand *s, int64_t cells, int from, int to, struct risk *g)
{
    double square = 0;
    *g = (struct risk){0};
    for (int r = from; r < to; r++) {
        const struct cot_mix_part *p = &s->now.part[r];
        double there = (double)(s->now_base - s->out) + part_mean(p, (double)s->now.cells), room = (double)cells;
        there = there < 0 ? 0 : there > room ? room : there;
        g->weight += p->weight;
        g->mean += p->weight * there;
        square += p->weight * (part_variance(p, (double)s->now.cells) + there * there);
    }
    if (!(g->weight > 0)) return;
    g->mean /= g->weight;
    g->variance = square / g->weight - g->mean * g->mean;
    if (g->variance < 0) g->variance = 0;
}

static bool loss_weighs_most(const struct risk *all, double later)
{
    double keep = 1 - later, square = all->variance + all->mean * all->mean;
    return later * keep / (1 / later + 1) * square > MOST_OPEN * keep * keep * all->variance;
}

/* The parts after it; where nothing else is open, the share alone. */
static int thinned(const struct cot_stand *s, int64_t cells, double later, struct risk out[static COT_RHO_POINTS])
{
    struct risk g;
    group(s, cells, 0, COT_RHO_POINTS, &g);
    bool alone = !(cot_mix_variance(&s->now) > 1e-6), fine = loss_weighs_most(&g, later);
    static const double whole[] = {0, 1};
    const double *end = alone ? whole : fine ? fine_end : slice_end;
    int slices = alone ? 1 : fine ? FINE : SLICES, n = 0, step = alone || fine ? COT_RHO_POINTS : SLICES;
    for (int from = 0; from < COT_RHO_POINTS; from += step) {
        group(s, cells, from, from + step, &g);
        for (int i = 0; i < slices; i++) {
            struct kept k;
            slice_of(later, end[i], end[i + 1], &k);
            double mean = g.mean * k.mean, square = g.variance + g.mean * g.mean;
            double cell = k.mean > k.square ? g.mean * (k.mean - k.square) : 0;
            double variance = k.square * square - mean * mean + cell;
            out[n++] = (struct risk){g.weight * k.weight, mean, variance > 0 ? variance : 0};
        }
    }
    return n;
}

/* Only what has not gone out can still be lost. */
static void take_later(struct cot_stand *s, double later)
{
    struct risk part[COT_RHO_POINTS];
    int64_t top = s->now_base + s->now.cells < s->most ? s->now_base + s->now.cells : s->most;
    int64_t cells = top > s->out ? top - s->out : 0;
    int n = thinned(s, cells, later, part);
    double left = 0;
    s->then = (struct cot_mix){.cells = cells};
    for (int i = 0; i < n; i++)
        if (part[i].weight > 0.01)
            s->then.cells = fitting(s->then.cells, (double)cells, part[i].mean, part[i].variance);
    for (int i = 0; i < n; i++) {
        cot_mix_match(s->then.cells, part[i].mean - (double)(cells - s->then.cells), part[i].variance,
                      &s->then.part[i]);
        s->then.part[i].weight = part[i].weight;
        left += part[i].weight * part[i].mean;
    }
    s->then_base = s->out + cells - s->then.cells;
    s->later = (int64_t)(left * later / (1 - later) + 0.5);
}

#define LATER_LEAST 1e-6 /* shares below are no loss */
#define LATER_MOST 0.9

void cot_stand_finish(struct cot_stand *s, int32_t confidence)
{
    double low = cot_round9((1000 - confidence) / 1000.0), sure = cot_round9(confidence / 1000.0), u[2] = {low, 0.5};
    double later = s->later_share < LATER_MOST ? s->later_share : LATER_MOST;
    int64_t at[2];
    int on = low > 0.5, likely = low <= 0.5; /* levels rise */
    u[on] = low;
    u[likely] = 0.5;
    s->now_base = s->fixed;
    add_survivors(s, &s->now);
    s->over = s->out > 0 && s->out > today_at(s, sure, 0);
    s->then = s->now;
    s->then_base = s->now_base;
    s->later = 0;
    if (later > LATER_LEAST) take_later(s, later);
    cot_mix_quantiles(&s->then, u, 2, at);
    s->likely = bend(s, s->then_base + at[likely], s->out);
    s->count_on = bend(s, s->then_base + at[on], s->out);
    s->likely_today = later > LATER_LEAST ? today_at(s, 0.5, s->out) : s->likely;
}
