/* A batch against its lot; and whether seed or house is to be looked at, from other batches alone. */
#include "cotyledger/core/check.h"

#include <inttypes.h>
#include <math.h>

#include "cotyledger/core/prob.h"

#define EVIDENCE_MOST 20.0
#define ODDS_MOST 15.0 /* log-odds beyond which no stand is told from none or all */

static enum cot_err sound(const struct cot_check_stand *s, struct cot_fault *fault)
{
    if (s->trays < 1 || s->looked < s->trays || s->usable < 0 || s->usable > s->looked || s->looked > INT32_MAX)
        return cot_fail(fault, COT_INVALID, "%" PRId64 " usable of %" PRId64 " cells in %" PRId64 " trays cannot be",
                        s->usable, s->looked, s->trays);
    if (isfinite(s->odds.mean) && s->odds.sd >= 0 && isfinite(s->odds.sd)) return COT_OK;
    return cot_fail(fault, COT_INVALID, "what is expected of the batch is no number");
}

/* The plants among the cells looked at, as trays of one size: the next whole one. *k: the usable ones of them, in
 * proportion. */
static void mix_of(const struct cot_check_stand *s, double odds, const double *rho_weight, struct cot_mix *mix,
                   int64_t *k)
{
    struct cot_odds at = {odds, s->odds.sd};
    cot_mix_before(&at, rho_weight, s->trays, (s->looked + s->trays - 1) / s->trays, s->cell, s->context, mix);
    *k = (2 * s->usable * mix->cells + s->looked) / (2 * s->looked);
}

enum cot_err cot_check_low(const struct cot_check_stand *s, const double rho_weight[static COT_RHO_POINTS],
                           struct cot_check_low *out, struct cot_fault *fault)
{
    struct cot_mix mix;
    int64_t k;
    *out = (struct cot_check_low){0};
    enum cot_err err = sound(s, fault);
    if (err != COT_OK) return err;
    mix_of(s, s->odds.mean, rho_weight, &mix, &k);
    out->expected = cot_round9(cot_mix_mean(&mix) * (double)s->looked / (double)mix.cells);
    out->chance = cot_mix_le(&mix, k);
    out->low = out->chance < COT_CHECK_RARE;
    if (isnan(out->chance)) return cot_fail(fault, COT_INVALID, "weights of rho make no chance");
    return COT_OK;
}

static double cell_usable(const struct cot_check_stand *s, double odds)
{
    double rate = cot_rate_of_odds(odds);
    return s->cell ? s->cell(s->context, rate) : rate;
}

/* The seed's log-odds at which the cells' rate is what was seen; the rate rises with them. */
static double seen_odds(const struct cot_check_stand *s)
{
    double want = ((double)s->usable + 0.5) / ((double)s->looked + 1), low = -ODDS_MOST, high = ODDS_MOST;
    for (int i = 0; i < 60; i++) {
        double mid = (low + high) / 2;
        if (cell_usable(s, mid) < want) low = mid;
        else high = mid;
    }
    return low;
}

static double log_chance_of(const struct cot_mix *m, int64_t k)
{
    double term[COT_RHO_POINTS], top = -INFINITY, sum = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        const struct cot_mix_part *p = &m->part[r];
        term[r] = p->weight > 0 ? log(p->weight) + cot_betabinom_log_pmf(m->cells, p->a, p->b, k) : -INFINITY;
        if (term[r] > top) top = term[r];
    }
    for (int r = 0; r < COT_RHO_POINTS; r++) sum += exp(term[r] - top);
    return top + log(sum);
}

enum cot_err cot_check_shares(const struct cot_check_stand *poor, const struct cot_check_stand *other,
                              const double rho_weight[static COT_RHO_POINTS], double *out, struct cot_fault *fault)
{
    struct cot_mix as_expected, as_poor;
    int64_t k;
    *out = 0;
    enum cot_err err = sound(poor, fault);
    if (err == COT_OK) err = sound(other, fault);
    if (err != COT_OK) return err;
    double moved = seen_odds(poor) - poor->odds.mean;
    mix_of(other, other->odds.mean, rho_weight, &as_expected, &k);
    mix_of(other, other->odds.mean + moved, rho_weight, &as_poor, &k);
    double evidence = log_chance_of(&as_poor, k) - log_chance_of(&as_expected, k);
    if (isnan(evidence)) return cot_fail(fault, COT_INVALID, "weights of rho make no chance");
    evidence = evidence > EVIDENCE_MOST ? EVIDENCE_MOST : evidence < -EVIDENCE_MOST ? -EVIDENCE_MOST : evidence;
    *out = cot_round9(evidence);
    return COT_OK;
}

/* What one side's other batches say. */
enum side { NONE, UNSURE, CLEAR, SHARES };

static enum side side_of(size_t batches, double evidence)
{
    if (batches == 0) return NONE;
    if (evidence >= COT_CHECK_EVIDENCE) return SHARES;
    return evidence <= -COT_CHECK_EVIDENCE ? CLEAR : UNSURE;
}

enum cot_points cot_check_cause(size_t lot_batches, double lot_evidence, size_t day_batches, double day_evidence)
{
    static const enum cot_points cause[4][4] = {
        /* the day's: NONE, UNSURE, CLEAR, SHARES */
        [NONE] = {COT_POINTS_NONE, COT_POINTS_UNSURE, COT_POINTS_SEED, COT_POINTS_HOUSE},
        [UNSURE] = {COT_POINTS_UNSURE, COT_POINTS_UNSURE, COT_POINTS_SEED, COT_POINTS_HOUSE},
        [CLEAR] = {COT_POINTS_HOUSE, COT_POINTS_HOUSE, COT_POINTS_BATCH, COT_POINTS_HOUSE},
        [SHARES] = {COT_POINTS_SEED, COT_POINTS_SEED, COT_POINTS_SEED, COT_POINTS_BOTH},
    };
    return cause[side_of(lot_batches, lot_evidence)][side_of(day_batches, day_evidence)];
}

const char *cot_points_word(enum cot_points c)
{
    switch (c) {
    case COT_POINTS_NONE:
        return "can't tell: no other batch to compare";
    case COT_POINTS_UNSURE:
        return "can't tell: the other batches do not say";
    case COT_POINTS_BOTH:
        return "can't tell: the lot's other batches and that day's other lots are poor too";
    case COT_POINTS_SEED:
        return "points at the seed";
    case COT_POINTS_HOUSE:
        return "points at the house";
    case COT_POINTS_BATCH:
        return "points at this batch alone: its lot and its day did well elsewhere";
    }
    return "?";
}
