/* Sowing again: from which lot, how many trays, by when, and what would stand then. */
#include <math.h>
#include <string.h>

#include "cotyledger/core/raising.h"
#include "cotyledger/core/prob.h"
#include "cotyledger/core/sow.h"
#include "remedy/in.h"
#include "stand/calc.h"
#include "stand/lore.h"
#include "stand/stand.h"

#define LOTS_MOST 2 /* lots offered for a line */

struct sowing {
    struct cot_sow_asked asked;
    struct cot_sow sow;
    struct cot_sow_found found;
    bool sub;    /* of a substitute that the line takes */
    bool dearer; /* organic, and not asked for */
    bool own;    /* the farm's own seed */
};

static bool is_zero(const struct cot_id *id)
{
    static const struct cot_id zero;
    return cot_id_cmp(id, &zero) == 0;
}

/* --- Which lots --------------------------------------------------------------------------------------------------- */
static bool lot_fits(const struct cot_need *n, const struct cot_thing *lot, struct sowing *s)
{
    const struct cot_if_line *l = &n->asked;
    const struct cot_id *variety = cot_thing_id(lot, COT_F_VARIETY), *owner = cot_thing_id(lot, COT_F_OWNER);
    bool organic = cot_thing_int(lot, COT_F_ORGANIC, 0) != 0, own = owner && !is_zero(owner);
    if (lot->gone || cot_thing_int(lot, COT_F_WITHDRAWN, 0) || !variety) return false;
    if (cot_thing_int(lot, COT_F_USE_BY, COT_DAY_MAX) < n->fill->on) return false;
    if (own ? cot_id_cmp(owner, &l->farm->id) != 0 : l->own_seed) return false;
    if ((l->untreated && cot_thing_int(lot, COT_F_TREATED, 0)) || (l->organic && !organic)) return false;
    bool same = cot_id_cmp(variety, &l->variety->id) == 0, sub = false;
    for (uint32_t i = 0; !same && i < l->sub_count; i++) sub = sub || cot_id_cmp(variety, &l->subs[i]) == 0;
    s->asked.lot = lot;
    s->sub = sub;
    s->own = own;
    s->dearer = organic && !l->organic;
    return same || sub;
}

static double germ_of(const struct sowing *s)
{
    return cot_round9(s->sow.germ_a / (s->sow.germ_a + s->sow.germ_b));
}

/* The one to sow rather than the other: as asked, the farm's own, not dearer, with better germination. */
static bool rather(const struct sowing *a, const struct sowing *b)
{
    if (a->sub != b->sub) return b->sub;
    if (a->own != b->own) return a->own;
    if (a->dearer != b->dearer) return b->dearer;
    if (germ_of(a) != germ_of(b)) return germ_of(a) > germ_of(b);
    return strcmp(cot_thing_name(a->asked.lot), cot_thing_name(b->asked.lot)) < 0;
}

/* How the house sowed into that format last: of the same crop if it ever did. */
static void sow_as_usual(const struct cot_need *n, struct sowing *s)
{
    const struct cot_fill *f = n->fill;
    uint32_t best = UINT32_MAX;
    bool best_crop = false;
    for (uint32_t k = 0; k < f->batch_count; k++) {
        const struct cot_thing *variety = cot_book_thing(n->book, &f->stand[k].variety);
        const struct cot_id *crop = variety ? cot_thing_id(variety, COT_F_CROP) : NULL;
        bool same = crop && n->crop && cot_id_cmp(crop, &n->crop->id) == 0;
        if (!f->batch[k] || !is_zero(&f->stand[k].parent)) continue;
        if (cot_id_cmp(&f->stand[k].format, &n->format->id) != 0) continue;
        bool later = best != UINT32_MAX && f->stand[k].sown > f->stand[best].sown;
        if (best != UINT32_MAX && !(same && !best_crop) && !(same == best_crop && later)) continue;
        best = k;
        best_crop = same;
    }
    if (best == UINT32_MAX) return;
    const struct cot_thing *batch = f->batch[best];
    const struct cot_id *plate = cot_thing_id(batch, COT_F_PLATE);
    s->asked.plate = plate ? cot_book_thing(n->book, plate) : NULL;
    s->asked.put_right = cot_thing_int(batch, COT_F_PUT_RIGHT, 0) != 0;
    if (!best_crop) return; /* seeds in a cell are the crop's */
    s->asked.per_cell = cot_thing_int(batch, COT_F_PER_CELL, 0);
    s->asked.at_least = cot_thing_int(batch, COT_F_AT_LEAST, 0);
}

/* The best lots, best first; how many. What cannot be read (figures that make no sense) is passed over. */
static uint32_t choose(const struct cot_need *n, struct sowing best[LOTS_MOST])
{
    size_t lots;
    uint32_t count = 0;
    const struct cot_thing *const *lot = cot_book_things(n->book, COT_THING_LOT, &lots);
    for (size_t i = 0; i < lots; i++) {
        struct sowing s = {.asked.format = n->format};
        if (!lot_fits(n, lot[i], &s)) continue;
        sow_as_usual(n, &s);
        if (cot_sow_read(n->book, &s.asked, n->fill->on, &s.sow, &s.found, NULL) != COT_OK || s.found.stock == 0)
            continue;
        uint32_t at = count;
        while (at > 0 && rather(&s, &best[at - 1])) at--;
        if (at == LOTS_MOST) continue;
        uint32_t moved = (count < LOTS_MOST ? count : LOTS_MOST - 1) - at;
        memmove(&best[at + 1], &best[at], moved * sizeof *best);
        best[at] = s;
        if (count < LOTS_MOST) count++;
    }
    return count;
}

/* --- What would stand --------------------------------------------------------------------------------------------- */
static void put_plants(const struct cot_plants *m, int32_t confidence, struct cot_stand *s)
{
    cot_plants_mix(m, &s->left);
    s->cells = s->unseen = s->most = m->cells;
    cot_stand_finish(s, confidence);
}

/* Plants more for one more on the log-odds scale, over all that the seeds' odds may be: as for a batch in the book that
 * nobody has counted. */
static double slope_of(const struct cot_sow *s, const struct cot_odds *x, double cells)
{
    double up = 0, all = 0;
    for (int i = -13; i <= 13; i++) {
        double z = 0.5 * i, w = exp(-0.5 * z * z);
        up += w * z * cot_cell_usable(&s->cell, cot_rate_of_odds(x->mean + z * x->sd));
        all += w * z * z;
    }
    return (1 - s->later) * cells * up / (all * x->sd);
}

/* How far it goes up and down with the lot's other batches; see cot_stand's `shared`. */
static double shared_of(const struct cot_sow *s, const struct cot_stand *sown)
{
    const struct cot_witness uncounted = {.rate = false};
    struct cot_before before = {.common = s->common, .spread = s->spread};
    double between = s->spread.between, common = s->common.sd;
    before.x = (struct cot_odds){s->common.mean, sqrt(common * common + between * between)};
    double slope = slope_of(s, &before.x, (double)sown->cells), sd = sqrt(cot_mix_variance(&sown->then));
    return cot_round9(cot_shared_of(&before, &uncounted, slope, sd));
}

static enum cot_err stand_of(const struct cot_need *n, const struct sowing *s, int64_t trays, int32_t sown,
                             int32_t days, struct cot_stand *out)
{
    struct cot_plants plants;
    const struct cot_thing *lot = s->asked.lot;
    struct cot_raising raising;
    cot_raising_of(n->book, n->crop, n->format, sown, &raising);
    int64_t most = raising.days_max;
    enum cot_err err = cot_sow_plants(&s->sow, trays, &plants, NULL);
    if (err != COT_OK) return err;
    *out = (struct cot_stand){
        .variety = *cot_thing_id(lot, COT_F_VARIETY),
        .format = n->format->id,
        .lot = lot->id,
        .sown = sown,
        .ready = sown + days,
        .past = sown + (int32_t)(most >= days ? most : days + COT_PAST_DAYS_DEFAULT),
        .counted = COT_DAY_NONE,
        .trays = (int32_t)trays,
        .provisional = true,
        .untreated = !cot_thing_int(lot, COT_F_TREATED, 0),
        .organic = cot_thing_int(lot, COT_F_ORGANIC, 0) != 0,
    };
    const struct cot_id *owner = cot_thing_id(lot, COT_F_OWNER);
    if (owner) out->owner = *owner;
    put_plants(&plants, n->fill->confidence, out);
    out->shared = shared_of(&s->sow, out);
    return COT_OK;
}

/* --- A candidate -------------------------------------------------------------------------------------------------- */

/* The fewest trays for so many plants, or as many as the seed on hand is enough for; 0: none. */
static int64_t trays_for(const struct cot_need *n, const struct sowing *s, int64_t plants, bool *enough)
{
    struct cot_sow_answer answer;
    int64_t most;
    *enough = true;
    if (cot_sow_trays(&s->sow, plants, n->fill->confidence, &answer, NULL) != COT_OK) return 0;
    if (s->found.stock < 0) return answer.trays;
    if (cot_sow_trays_of_seeds(&s->sow, s->found.stock, n->fill->confidence, &most, NULL) != COT_OK) return 0;
    *enough = answer.trays <= most;
    return *enough ? answer.trays : most;
}

static enum cot_err try_trays(const struct cot_need *n, const struct sowing *s, int64_t trays, int32_t days,
                              struct cot_tries *out)
{
    struct cot_sow_seeds seeds;
    int32_t by = n->last - days, best = n->line->date - days;
    struct cot_try *t = cot_try_add(n, out, COT_REMEDY_RESOW);
    if (!t) return COT_OK;
    enum cot_err err = stand_of(n, s, trays, best > n->fill->on ? best : n->fill->on, days, &t->batch);
    if (err == COT_OK) err = cot_sow_seeds(&s->sow, trays, n->fill->confidence, &seeds, NULL);
    if (err != COT_OK) return err;
    t->change.batch = &t->batch;
    t->remedy.lot = s->asked.lot;
    t->remedy.format = n->format;
    t->remedy.variety = s->found.variety;
    t->remedy.by = by;
    t->remedy.ready = t->batch.ready;
    t->remedy.trays = trays;
    t->remedy.plants = t->batch.likely;
    t->remedy.seeds = seeds.enough;
    t->remedy.on_hand = s->found.stock;
    t->remedy.minutes = COT_MINUTES_SOWING + trays * COT_MINUTES_TRAY;
    t->remedy.guess = s->found.germ.basis != COT_GERM_TEST;
    t->remedy.treated = cot_lot_treated(s->asked.lot);
    return COT_OK;
}

/* For the line alone; and for all that want the same, since those before it in the queue would take what is sown. From
 * the best lot, and from the next where seed runs out. */
enum cot_err cot_try_sowing(const struct cot_need *need, struct cot_tries *out)
{
    struct sowing best[LOTS_MOST];
    struct cot_raising raising;
    int32_t by =
        need->format ? cot_raising_back(need->book, need->crop, need->format, need->last, &raising) : COT_DAY_NONE;
    if (by == COT_DAY_NONE || by < need->fill->on) return COT_OK;
    int64_t days = need->last - by;
    uint32_t lots = choose(need, best);
    enum cot_err err = COT_OK;
    bool enough = false;
    for (uint32_t i = 0; err == COT_OK && i < lots && !enough; i++) {
        bool ignored;
        int64_t alone = trays_for(need, &best[i], need->unsure, &enough);
        int64_t all = trays_for(need, &best[i], need->unsure_all, &ignored);
        if (alone > 0) err = try_trays(need, &best[i], alone, (int32_t)days, out);
        if (err == COT_OK && all > alone) err = try_trays(need, &best[i], all, (int32_t)days, out);
    }
    return err;
}
