/* The plants of a batch, today and on the collecting day, from what was seen and what is left open. */
#include "stand/calc.h"

#include <math.h>

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

/* What is left of N plants at risk when each is lost with a share p ~ Beta(1, 1 / later - 1): mean and variance of the
 * rest, by the law of total variance. */
static void thin(double later, double *mean, double *variance)
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

/* Only what has not gone out can still be lost. */
static void take_later(struct cot_stand *s, double later)
{
    double mean[COT_RHO_POINTS], variance[COT_RHO_POINTS], lost = 0;
    int64_t top = s->now_base + s->now.cells < s->most ? s->now_base + s->now.cells : s->most;
    int64_t cells = top > s->out ? top - s->out : 0;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        const struct cot_mix_part *p = &s->now.part[r];
        double there = (double)(s->now_base - s->out) + part_mean(p, (double)s->now.cells), room = (double)cells;
        mean[r] = there < 0 ? 0 : there > room ? room : there;
        variance[r] = part_variance(p, (double)s->now.cells);
        lost += p->weight * mean[r] * later;
        thin(later, &mean[r], &variance[r]);
    }
    s->then.cells = cells;
    for (int r = 0; r < COT_RHO_POINTS; r++)
        if (s->now.part[r].weight > 0.01) s->then.cells = fitting(s->then.cells, (double)cells, mean[r], variance[r]);
    for (int r = 0; r < COT_RHO_POINTS; r++)
        cot_mix_match(s->then.cells, mean[r] - (double)(cells - s->then.cells), variance[r], &s->then.part[r]);
    s->then_base = s->out + cells - s->then.cells;
    s->later = (int64_t)(lost + 0.5);
}

#define LATER_LEAST 1e-6 /* shares below are no loss */
#define LATER_MOST 0.9

void cot_stand_finish(struct cot_stand *s, int32_t confidence)
{
    double sure = cot_round9(confidence / 1000.0), later = s->later_share < LATER_MOST ? s->later_share : LATER_MOST;
    s->now_base = s->fixed;
    add_survivors(s, &s->now);
    s->over = s->out > today_at(s, sure, 0);
    s->likely_today = today_at(s, 0.5, s->out);
    s->then = s->now;
    s->then_base = s->now_base;
    s->later = 0;
    if (later > LATER_LEAST) take_later(s, later);
    s->likely = cot_stand_at(s, 0.5);
    s->count_on = cot_stand_at(s, cot_round9((1000 - confidence) / 1000.0));
}
