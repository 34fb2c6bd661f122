/* Whether the counts of a batch are believable, read from the book. */
#include <math.h>
#include <stdlib.h>

#include "check/figures.h"
#include "cotyledger/core/sow.h"
#include "stand/stand.h"

static const struct cot_thing *linked(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

static int64_t int_of(const struct cot_thing *t, enum cot_field f, int64_t otherwise)
{
    return t ? cot_thing_int(t, f, otherwise) : otherwise;
}

/* A batch as it was sown. */
struct sown {
    const struct cot_thing *batch, *lot;
    int32_t day, count_day;
    struct cot_sow sow; /* `known`: what was to be expected of it */
    bool known;         /* sown, not potted on, from a lot of which something is known */
};

static bool sown_read(struct cot_book *b, const struct cot_thing *batch, int32_t on, struct sown *out)
{
    int64_t day = cot_thing_int(batch, COT_F_DAY, COT_DAY_MAX);
    *out = (struct sown){.batch = batch, .lot = linked(b, batch, COT_F_LOT), .day = (int32_t)day};
    if (batch->type != COT_THING_BATCH || batch->gone || day > on) return false;
    const struct cot_thing *crop = linked(b, linked(b, out->lot, COT_F_VARIETY), COT_F_CROP);
    out->count_day = out->day + (int32_t)int_of(crop, COT_F_COUNT_DAYS, COT_COUNT_DAYS_DEFAULT);
    return true;
}

/* What was to be expected of it; it looks through the book, so it is asked of few. */
static void expect(struct cot_book *b, int32_t on, struct sown *s)
{
    struct cot_sow_found found;
    struct cot_sow_asked asked = {
        .lot = s->lot,
        .format = linked(b, s->batch, COT_F_FORMAT),
        .plate = linked(b, s->batch, COT_F_PLATE),
        .per_cell = int_of(s->batch, COT_F_PER_CELL, 0),
        .at_least = int_of(s->batch, COT_F_AT_LEAST, 0),
        .put_right = int_of(s->batch, COT_F_PUT_RIGHT, 0) != 0,
    };
    if (!s->lot || !asked.format || linked(b, s->batch, COT_F_BATCH)) return;
    if (cot_sow_read(b, &asked, on, &s->sow, &found, NULL) == COT_OK) s->known = found.germ.basis != COT_GERM_NOTHING;
}

/* The counts beside what was expected of the lot on the day of the stand count. */
static struct cot_check_stand stand_of(const struct sown *s, const struct cot_check_figures *f)
{
    const struct cot_spread *spread = &s->sow.spread;
    struct cot_odds lot;
    cot_odds_of_seed(s->sow.germ_a, s->sow.germ_b, s->sow.emerge * s->sow.fit, &lot);
    double variance = lot.sd * lot.sd + spread->shift_sd * spread->shift_sd + spread->between * spread->between;
    return (struct cot_check_stand){
        .trays = f->sampled,
        .looked = f->looked,
        .usable = f->usable,
        .odds = {lot.mean + spread->shift, sqrt(variance)},
        .cell = cot_cell_usable,
        .context = &s->sow.cell,
    };
}

/* --- Seed or house -------------------------------------------------------------------------------------------------
 */
struct others {
    size_t lot_batches, day_batches;
    double lot_evidence, day_evidence;
};

static enum cot_err hold_against(struct cot_book *b, const struct sown *poor, const struct cot_check_stand *stand,
                                 struct sown *other, int32_t on, struct others *sum)
{
    struct cot_check_figures f;
    double evidence;
    bool same_lot = other->lot == poor->lot, same_day = other->day == poor->day;
    if (!other->lot || same_lot == same_day) return COT_OK; /* both alike: tells neither from the other */
    expect(b, on, other);
    if (!other->known) return COT_OK;
    enum cot_err err = cot_check_figures_read(b, other->batch, on, other->count_day, &f);
    if (err == COT_OK && f.sampled > 0 && !f.early) {
        struct cot_check_stand at = stand_of(other, &f);
        if (cot_check_shares(stand, &at, other->sow.spread.rho_weight, &evidence, NULL) == COT_OK) {
            *(same_lot ? &sum->lot_evidence : &sum->day_evidence) += evidence;
            ++*(same_lot ? &sum->lot_batches : &sum->day_batches);
        }
    }
    cot_check_figures_free(&f);
    return err;
}

static enum cot_err look_for_cause(struct cot_book *b, const struct sown *poor, const struct cot_check_stand *stand,
                                   int32_t on, struct cot_check_batch *out)
{
    size_t n;
    struct others sum = {0};
    struct sown other;
    enum cot_err err = COT_OK;
    const struct cot_thing *const *batch = cot_book_things(b, COT_THING_BATCH, &n);
    for (size_t i = 0; err == COT_OK && i < n; i++)
        if (batch[i] != poor->batch && sown_read(b, batch[i], on, &other))
            err = hold_against(b, poor, stand, &other, on, &sum);
    out->lot_batches = sum.lot_batches;
    out->day_batches = sum.day_batches;
    out->points = cot_check_cause(sum.lot_batches, sum.lot_evidence, sum.day_batches, sum.day_evidence);
    return err;
}

/* --- All of it -------------------------------------------------------------------------------------------------------
 */
static void hold_trays(const struct sown *s, struct cot_check_batch *out)
{
    struct cot_spread assumed;
    cot_spread_assumed(&assumed);
    const double *weight = s->known ? s->sow.spread.rho_weight : assumed.rho_weight;
    if (cot_check_trays(out->tray, out->trays, weight, NULL) != COT_OK) return; /* more than are compared */
    for (size_t i = 0; i < out->trays; i++) out->unlike += out->tray[i].unlike;
}

enum cot_err cot_check_batch(struct cot_book *b, const struct cot_thing *batch, int32_t on, struct cot_check_batch *out)
{
    struct cot_check_figures f;
    struct sown s;
    *out = (struct cot_check_batch){0};
    if (!sown_read(b, batch, on, &s)) return COT_NOT_FOUND;
    expect(b, on, &s);
    enum cot_err err = cot_check_figures_read(b, batch, on, s.count_day, &f);
    out->tray = f.tray;
    out->trays = f.trays;
    out->looked = f.looked;
    out->usable = f.usable;
    out->early = f.early;
    out->counted = f.sampled > 0;
    if (err != COT_OK || !out->counted) return err;
    hold_trays(&s, out);
    if (!s.known || f.early) return COT_OK;
    struct cot_check_stand stand = stand_of(&s, &f);
    out->compared = cot_check_low(&stand, s.sow.spread.rho_weight, &out->low, NULL) == COT_OK;
    out->assumed = s.sow.spread.batches == 0;
    return out->compared && out->low.low ? look_for_cause(b, &s, &stand, on, out) : COT_OK;
}

void cot_check_batch_free(struct cot_check_batch *c)
{
    free(c->tray);
    *c = (struct cot_check_batch){0};
}
