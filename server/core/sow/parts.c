/* Why more cells are sown than plants are wanted: each cause switched on in turn. */
#include <math.h>

#include "cotyledger/core/prob.h"
#include "sow/calc.h"

/* Rate of a seed after the factors so far, with the house's shift from the emergence on. */
static double after(const struct cot_sow *s, double factors)
{
    struct cot_odds common;
    double g = s->germ_a / (s->germ_a + s->germ_b), shift;
    cot_sow_common(s, &common, &shift);
    return cot_rate_of_odds(cot_odds_of_rate(g * factors) + shift);
}

/* Cells needed on average, cause by cause; and the share that fails at each. */
static void on_average(const struct cot_sow *s, double wanted, double need[static COT_CAUSE_COUNT],
                       double share[static COT_CAUSE_LOST + 1])
{
    double rate[COT_CAUSE_LOST] = {
        [COT_CAUSE_EMPTY] = 1,
        [COT_CAUSE_GERM] = s->germ_a / (s->germ_a + s->germ_b),
        [COT_CAUSE_EMERGE] = after(s, s->emerge),
        [COT_CAUSE_UNFIT] = after(s, s->emerge * s->fit),
    };
    for (int c = 0; c < COT_CAUSE_LOST; c++) {
        need[c] = wanted / cot_cell_usable(&s->cell, rate[c]);
        share[c] = c == 0 ? 1 - cot_cell_usable(&s->cell, 1) : 1 - rate[c] / rate[c - 1];
    }
    need[COT_CAUSE_LOST] = need[COT_CAUSE_UNFIT] / (1 - s->later);
    share[COT_CAUSE_LOST] = s->later;
}

/* With the rate known, and trays alike or not. */
struct known_rate {
    const struct cot_sow *sow;
    const struct cot_sow_moments *moments; /* NULL: trays are alike too */
    double rate;
    int64_t wanted;
    int32_t confidence;
};

static bool cells_do(const void *context, int64_t cells)
{
    const struct known_rate *c = context;
    struct cot_plants plants;
    double chance;
    if (cells < c->wanted) return false;
    if (c->moments) {
        double n = (double)cells, squares = n * n / (double)c->sow->batches;
        cot_plants_of(c->moments, c->sow->spread.rho_weight, cells, c->sow->tray_cells, squares, &plants);
        chance = cot_plants_ge(&plants, c->wanted);
    } else {
        chance = cot_round9(cot_binom_ge(cells, c->rate, c->wanted));
    }
    return cot_sure(chance, c->confidence);
}

static double fewest_cells(const struct known_rate *c, double guess, int64_t most)
{
    return (double)cot_fewest(1, most, guess < (double)most ? (int64_t)guess : most, cells_do, c);
}

/* Cells needed for the confidence. No need is more than the trays found have. */
static void for_sure(const struct cot_sow *s, int64_t wanted, int32_t confidence, int64_t most,
                     double need[static COT_CAUSE_COUNT])
{
    struct cot_sow_moments all, fixed;
    double q = cot_cell_usable(&s->cell, after(s, s->emerge * s->fit));
    cot_moments_known(q, s->later, &fixed);
    struct known_rate c = {s, NULL, q * (1 - s->later), wanted, confidence};
    need[COT_CAUSE_LUCK] = fewest_cells(&c, need[COT_CAUSE_LOST], most);
    c.moments = &fixed;
    need[COT_CAUSE_TRAYS] = fewest_cells(&c, need[COT_CAUSE_LUCK], most);
    cot_sow_moments_of(s, &all);
    c.moments = &all;
    need[COT_CAUSE_BATCHES] = fewest_cells(&c, need[COT_CAUSE_TRAYS], most);
    need[COT_CAUSE_WHOLE] = (double)most;
}

enum cot_err cot_sow_parts(const struct cot_sow *s, int64_t wanted, int32_t confidence, int64_t trays,
                           struct cot_sow_parts *out, struct cot_fault *fault)
{
    double need[COT_CAUSE_COUNT];
    enum cot_err err = cot_sow_check(s, fault);
    if (err == COT_OK) err = cot_sow_check_asked(wanted, confidence, fault);
    if (err == COT_OK) err = cot_sow_check_trays(trays, fault);
    if (err != COT_OK) return err;
    *out = (struct cot_sow_parts){.wanted = wanted, .cells = trays * s->tray_cells};
    on_average(s, (double)wanted, need, out->share);
    for_sure(s, wanted, confidence, out->cells, need);
    int64_t before = wanted;
    for (int c = 0; c < COT_CAUSE_COUNT; c++) {
        int64_t now = (int64_t)floor(cot_round9(need[c]) + 0.5);
        out->part[c] = now - before;
        before = now;
    }
    return COT_OK;
}
