/* What batches that there are could do for a line: released, patched, or taken as they are by a buyer who says yes. */
#include <string.h>

#include "remedy/in.h"

#define VARIETIES_MOST 3 /* other varieties that a buyer is asked about */

struct cot_try *cot_try_add(const struct cot_need *need, struct cot_tries *out, enum cot_remedy_kind kind)
{
    if (out->count == COT_TRIES_MOST) return NULL;
    struct cot_try *t = &out->item[out->count++];
    memset(t, 0, sizeof *t);
    t->remedy.kind = kind;
    t->remedy.line = need->index;
    t->remedy.by = need->last;
    t->remedy.ready = COT_DAY_NONE;
    return t;
}

bool cot_lot_treated(const struct cot_thing *lot)
{
    return lot && (cot_thing_int(lot, COT_F_TREATED, 0) || cot_thing_text(lot, COT_F_TREATMENT)[0]);
}

static bool is_zero(const struct cot_id *id)
{
    static const struct cot_id zero;
    return cot_id_cmp(id, &zero) == 0;
}

/* Seed that the line takes: never asked about, a farm has its reasons. */
static bool seed_fits(const struct cot_if_line *l, const struct cot_stand *s)
{
    bool own = !is_zero(&s->owner);
    if ((l->untreated && !s->untreated) || (l->organic && !s->organic)) return false;
    return own ? cot_id_cmp(&s->owner, &l->farm->id) == 0 : !l->own_seed;
}

static bool variety_fits(const struct cot_if_line *l, const struct cot_stand *s)
{
    if (cot_id_cmp(&s->variety, &l->variety->id) == 0) return true;
    for (uint32_t i = 0; i < l->sub_count; i++)
        if (cot_id_cmp(&s->variety, &l->subs[i]) == 0) return true;
    return false;
}

static bool format_fits(const struct cot_if_line *l, const struct cot_stand *s)
{
    return !l->format || cot_id_cmp(&s->format, &l->format->id) == 0;
}

static int32_t ready_of(const struct cot_stand *s)
{
    return s->ready != COT_DAY_NONE ? s->ready : s->sown;
}

static bool day_fits(const struct cot_need *n, const struct cot_stand *s)
{
    return ready_of(s) <= n->last && (s->past == COT_DAY_NONE || s->past >= n->first);
}

static const struct cot_thing *crop_of(struct cot_book *b, const struct cot_id *variety)
{
    const struct cot_thing *v = cot_book_thing(b, variety);
    const struct cot_id *crop = v ? cot_thing_id(v, COT_F_CROP) : NULL;
    return crop ? cot_book_thing(b, crop) : NULL;
}

static void name_batch(const struct cot_need *n, uint32_t k, struct cot_remedy *r)
{
    const struct cot_stand *s = &n->fill->stand[k];
    r->batch = n->fill->batch[k];
    r->variety = cot_book_thing(n->book, &s->variety);
    r->format = cot_book_thing(n->book, &s->format);
    r->lot = cot_book_thing(n->book, &s->lot);
    r->guess = s->counted == COT_DAY_NONE || s->provisional;
    if (s->past != COT_DAY_NONE && s->past < r->by) r->by = s->past;
}

/* Too few plants to be worth the trouble. */
static bool too_few(const struct cot_need *n, int64_t plants)
{
    return plants * 100 < n->unsure * COT_GAIN_LEAST;
}

static int64_t least_of(int64_t x, int64_t y)
{
    return x < y ? x : y;
}

/* --- Held -----------------------------------------------------------------------------------------------------------
 */
static void try_release(const struct cot_need *n, uint32_t k, struct cot_tries *out)
{
    struct cot_try *t = cot_try_add(n, out, COT_REMEDY_RELEASE);
    if (!t) return;
    name_batch(n, k, &t->remedy);
    t->change.release = t->remedy.batch;
    t->remedy.plants = least_of(n->spare[k], n->unsure);
    t->remedy.minutes = COT_MINUTES_LOOK;
}

/* --- Patched --------------------------------------------------------------------------------------------------------
 */

/* Plants moved or pulled since the batch was last counted: those doubles are there no more. */
static int64_t moved_since(struct cot_book *b, const struct cot_stand *s, enum cot_kind kind)
{
    size_t n;
    int64_t moved = 0;
    const struct cot_note *note = cot_book_history(b, &s->batch, &n);
    for (size_t i = 0; i < n; i++) {
        const struct cot_fact *f = note[i].fact;
        if (note[i].verdict != COT_BOOKED || f->kind != kind) continue;
        if (cot_fact_int(f, COT_F_DAY, COT_DAY_MIN) >= s->counted) moved += cot_fact_int(f, COT_F_PLANTS, 0);
    }
    return moved;
}

static void try_patch(const struct cot_need *n, uint32_t k, struct cot_tries *out)
{
    const struct cot_stand *s = &n->fill->stand[k];
    if (s->counted == COT_DAY_NONE || s->doubles <= 0 || s->blanks <= 0) return;
    int64_t patched = moved_since(n->book, s, COT_K_PATCHED);
    int64_t donors = s->doubles - patched - moved_since(n->book, s, COT_K_THINNED);
    int64_t plants = least_of(least_of(donors, s->blanks - patched), n->unsure);
    int32_t by = n->last - COT_ROOT_DAYS;
    if (plants < 1 || by < n->fill->on || too_few(n, plants)) return;
    struct cot_try *t = cot_try_add(n, out, COT_REMEDY_PATCH);
    if (!t) return;
    name_batch(n, k, &t->remedy);
    t->remedy.by = by;
    t->remedy.plants = t->change.patch_plants = plants;
    t->change.patch = t->remedy.batch;
    t->remedy.treated = cot_lot_treated(t->remedy.lot);
    t->remedy.minutes = (plants * COT_SECONDS_PATCH + 59) / 60;
}

/* --- With the buyer's yes -------------------------------------------------------------------------------------------
 */
static struct cot_try *ask(const struct cot_need *n, uint32_t k, struct cot_tries *out, enum cot_remedy_kind kind)
{
    struct cot_try *t = cot_try_add(n, out, kind);
    if (!t) return NULL;
    name_batch(n, k, &t->remedy);
    t->line = n->asked;
    t->change.line = &t->line;
    t->remedy.plants = least_of(n->spare[k], n->unsure);
    t->remedy.buyers_yes = true;
    t->remedy.minutes = COT_MINUTES_ASK;
    return t;
}

static void try_format(const struct cot_need *n, uint32_t k, struct cot_tries *out)
{
    struct cot_try *t = ask(n, k, out, COT_REMEDY_FORMAT);
    if (t) t->line.format = NULL;
}

static void try_variety(const struct cot_need *n, uint32_t k, struct cot_tries *out)
{
    struct cot_try *t = ask(n, k, out, COT_REMEDY_VARIETY);
    if (!t) return;
    uint32_t subs = n->asked.sub_count < COT_SUBS_MOST ? n->asked.sub_count : COT_SUBS_MOST;
    for (uint32_t i = 0; i < subs; i++) t->subs[i] = n->asked.subs[i];
    t->subs[subs] = n->fill->stand[k].variety;
    t->line.subs = t->subs;
    t->line.sub_count = subs + 1;
}

/* The nearest day on which the batch is fit to go. */
static void try_day(const struct cot_need *n, uint32_t k, struct cot_tries *out)
{
    const struct cot_stand *s = &n->fill->stand[k];
    int32_t ready = ready_of(s), day = ready > n->last ? ready : s->past;
    if (day > n->last + COT_OTHER_DAY_MOST || day < n->first - COT_OTHER_DAY_MOST || day < n->fill->on) return;
    struct cot_try *t = ask(n, k, out, COT_REMEDY_DAY);
    if (!t) return;
    t->line.date = t->remedy.ready = day;
    t->remedy.by = day < n->last ? day : n->last;
}

/* Of several batches of one kind that a buyer might take, the one with the most to spare. */
static bool better(const struct cot_need *n, uint32_t k, uint32_t than)
{
    return than == UINT32_MAX || n->spare[k] > n->spare[than];
}

struct best {
    uint32_t format, day;
    uint32_t variety[VARIETIES_MOST]; /* a batch each, the most to spare first */
    uint32_t varieties;
};

/* One batch a variety, those with the most to spare. */
static void keep_variety(const struct cot_need *n, uint32_t k, struct best *b)
{
    const struct cot_id *id = &n->fill->stand[k].variety;
    uint32_t at = 0;
    while (at < b->varieties && cot_id_cmp(&n->fill->stand[b->variety[at]].variety, id) != 0) at++;
    if (at < b->varieties && n->spare[b->variety[at]] >= n->spare[k]) return;
    if (at == b->varieties && at < VARIETIES_MOST) b->varieties++;
    else if (at == VARIETIES_MOST && n->spare[b->variety[--at]] >= n->spare[k]) return;
    for (; at > 0 && n->spare[b->variety[at - 1]] < n->spare[k]; at--) b->variety[at] = b->variety[at - 1];
    b->variety[at] = k;
}

static void look_at(const struct cot_need *n, uint32_t k, struct best *b, struct cot_tries *out)
{
    const struct cot_stand *s = &n->fill->stand[k];
    bool variety = variety_fits(&n->asked, s), format = format_fits(&n->asked, s), day = day_fits(n, s);
    if (!n->fill->batch[k] || !seed_fits(&n->asked, s)) return;
    if (variety && format && day && s->held) try_release(n, k, out);
    if (s->held) return;
    if (variety && format && day) try_patch(n, k, out);
    if (n->spare[k] < 1 || too_few(n, n->spare[k])) return;
    if (variety && day && !format && better(n, k, b->format)) b->format = k;
    if (variety && format && !day && better(n, k, b->day)) b->day = k;
    if (!variety && format && day && n->crop && crop_of(n->book, &s->variety) == n->crop) keep_variety(n, k, b);
}

void cot_try_batches(const struct cot_need *need, struct cot_tries *out)
{
    struct best b = {.format = UINT32_MAX, .day = UINT32_MAX};
    for (uint32_t k = 0; k < need->fill->batch_count; k++) look_at(need, k, &b, out);
    if (b.format != UINT32_MAX) try_format(need, b.format, out);
    if (b.day != UINT32_MAX) try_day(need, b.day, out);
    for (uint32_t i = 0; i < b.varieties; i++) try_variety(need, b.variety[i], out);
}
