/* Whether the counts of a batch are believable, read from the book. */
#include <math.h>
#include <stdlib.h>

#include "check/figures.h"
#include "stand/past.h"

/* A batch as it was sown, and what was to be expected of it. */
struct sown {
    struct cot_around around;
    int32_t day, count_day;
    struct cot_odds odds; /* of its seeds, by its lot and how batches of the crop do in this house, itself left out */
    struct cot_spread spread;
    struct cot_cell cell;
    bool plain; /* one seed in a cell */
    bool known; /* sown, not potted on, from a lot of which something is known */
};

static bool sown_read(struct cot_book *b, const struct cot_thing *batch, int32_t on, struct sown *out)
{
    *out = (struct sown){.plain = true};
    if (batch->type != COT_THING_BATCH || batch->gone) return false;
    int64_t day = cot_thing_int(batch, COT_F_DAY, COT_DAY_MAX);
    if (day > on) return false;
    cot_look_around(b, batch, &out->around);
    out->day = (int32_t)day;
    out->count_day = out->day + (int32_t)cot_int_of(out->around.crop, COT_F_COUNT_DAYS, COT_COUNT_DAYS_DEFAULT);
    return true;
}

static void read_cell(struct cot_book *b, struct sown *s)
{
    const struct cot_around *a = &s->around;
    const struct cot_sow_asked asked = {.lot = a->lot,
                                        .plate = a->plate,
                                        .per_cell = cot_int_of(a->batch, COT_F_PER_CELL, 0),
                                        .at_least = cot_int_of(a->batch, COT_F_AT_LEAST, 0),
                                        .put_right = cot_int_of(a->batch, COT_F_PUT_RIGHT, 0) != 0};
    struct cot_sow_found found;
    s->plain = (!a->plate && asked.per_cell <= 1 && asked.at_least <= 1) ||
               cot_sow_cell(b, &asked, &s->cell, &found, NULL) != COT_OK;
}

static void expect(const struct cot_stand_shared *shared, struct sown *s)
{
    struct cot_odds lot;
    struct cot_before before;
    enum cot_stand_basis basis = cot_lot_odds(&s->around, shared->assumed_seeds, &lot);
    cot_past_before(shared->past, &s->around, &lot, &s->around.batch->id, &before);
    s->spread = before.spread;
    s->known = s->around.lot && basis != COT_BASIS_NOTHING && basis != COT_BASIS_POTTED;
    s->odds =
        (struct cot_odds){lot.mean + s->spread.shift, sqrt(lot.sd * lot.sd + s->spread.shift_sd * s->spread.shift_sd +
                                                           s->spread.between * s->spread.between)};
    if (s->known) read_cell(shared->book, s);
}

static struct cot_check_stand stand_of(const struct sown *s, const struct cot_check_figures *f)
{
    return (struct cot_check_stand){
        .trays = f->sampled,
        .looked = f->looked,
        .usable = f->usable,
        .odds = s->odds,
        .cell = s->plain ? NULL : cot_cell_usable,
        .context = &s->cell,
    };
}

/* --- Seed or house -------------------------------------------------------------------------------------------------
 */
struct others {
    size_t lot_batches, day_batches;
    double lot_evidence, day_evidence;
};

static enum cot_err hold_against(const struct cot_stand_shared *shared, const struct sown *poor,
                                 const struct cot_check_stand *stand, struct sown *other, struct others *sum)
{
    struct cot_check_figures f;
    double evidence;
    bool same_lot = other->around.lot == poor->around.lot, same_day = other->day == poor->day;
    if (!other->around.lot || same_lot == same_day) return COT_OK; /* both alike: tells neither from the other */
    expect(shared, other);
    if (!other->known) return COT_OK;
    enum cot_err err = cot_check_figures_read(shared->book, other->around.batch, shared->on, other->count_day, &f);
    if (err == COT_OK && f.sampled > 0 && !f.early) {
        struct cot_check_stand at = stand_of(other, &f);
        if (cot_check_shares(stand, &at, other->spread.rho_weight, &evidence, NULL) == COT_OK) {
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
    struct cot_stand_shared shared;
    enum cot_err err = cot_stand_shared_read(b, on, &shared); /* lots of other crops too */
    const struct cot_thing *const *batch = cot_book_things(b, COT_THING_BATCH, &n);
    for (size_t i = 0; err == COT_OK && i < n; i++)
        if (batch[i] != poor->around.batch && sown_read(b, batch[i], on, &other))
            err = hold_against(&shared, poor, stand, &other, &sum);
    cot_stand_shared_free(&shared);
    out->lot_batches = sum.lot_batches;
    out->day_batches = sum.day_batches;
    out->points = cot_check_cause(sum.lot_batches, sum.lot_evidence, sum.day_batches, sum.day_evidence);
    return err;
}

/* --- All of it -----------------------------------------------------------------------------------------------------
 */
static enum cot_err hold(struct cot_book *b, const struct sown *s, const struct cot_check_figures *f, int32_t on,
                         struct cot_check_batch *out)
{
    if (cot_check_trays(out->tray, out->trays, s->spread.rho_weight, NULL) == COT_OK)
        for (size_t i = 0; i < out->trays; i++) out->unlike += out->tray[i].unlike;
    if (!s->known || f->early) return COT_OK;
    struct cot_check_stand stand = stand_of(s, f);
    out->compared = cot_check_low(&stand, s->spread.rho_weight, &out->low, NULL) == COT_OK;
    out->assumed = s->spread.batches == 0;
    return out->compared && out->low.low ? look_for_cause(b, s, &stand, on, out) : COT_OK;
}

enum cot_err cot_check_batch(struct cot_book *b, const struct cot_thing *batch, int32_t on, struct cot_check_batch *out)
{
    struct cot_check_figures f;
    struct cot_stand_shared shared;
    struct sown s;
    *out = (struct cot_check_batch){0};
    if (!sown_read(b, batch, on, &s)) return COT_NOT_FOUND;
    enum cot_err err = cot_check_figures_read(b, batch, on, s.count_day, &f);
    out->tray = f.tray;
    out->trays = f.trays;
    out->looked = f.looked;
    out->usable = f.usable;
    out->early = f.early;
    out->counted = f.sampled > 0;
    if (err != COT_OK || !out->counted) return err;
    err = cot_stand_shared_read_crop(b, s.around.crop, on, &shared);
    if (err == COT_OK) expect(&shared, &s);
    cot_stand_shared_free(&shared);
    return err == COT_OK ? hold(b, &s, &f, on, out) : err;
}

void cot_check_batch_free(struct cot_check_batch *c)
{
    free(c->tray);
    *c = (struct cot_check_batch){0};
}
