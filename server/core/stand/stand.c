/* The stand of a batch, read from the book. */
#include "cotyledger/core/prob.h"
#include "stand/past.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Staff's place: t = min(clock, receipt), or the clock while it is not sent. */
struct cot_place cot_place_of(const struct cot_note *note)
{
    struct cot_place p = {.t = note->fact->clock, .number = note->fact->number};
    if (note->receipt > 0 && note->receipt < p.t) p.t = note->receipt;
    memcpy(p.tag, note->fact->tag, sizeof p.tag);
    p.tag[COT_TAG_MAX] = '\0';
    return p;
}

static int child_cmp(const void *x, const void *y)
{
    const struct cot_child *a = x, *b = y;
    int c = cot_id_cmp(&a->parent, &b->parent);
    if (c != 0) return c;
    if (a->day != b->day) return a->day < b->day ? -1 : 1;
    return cot_place_order(&a->place, &b->place);
}

static const struct cot_thing *parent_of(struct cot_book *b, const struct cot_thing *t)
{
    const struct cot_id *id = cot_thing_id(t, COT_F_BATCH);
    return id ? cot_book_thing(b, id) : NULL;
}

static enum cot_err read_children(struct cot_stand_shared *s)
{
    size_t all;
    const struct cot_thing *const *things = cot_book_things(s->book, COT_THING_BATCH, &all);
    s->child = malloc((all ? all : 1) * sizeof *s->child);
    if (!s->child) return COT_MEMORY;
    for (size_t i = 0; i < all; i++) {
        const struct cot_thing *t = things[i];
        const struct cot_thing *parent = parent_of(s->book, t);
        int32_t day = (int32_t)cot_thing_int(t, COT_F_DAY, COT_DAY_MAX);
        struct cot_note note;
        if (t->gone || !parent || day > s->on || !cot_book_verdict(s->book, &t->id, &note)) continue;
        s->child[s->child_count++] = (struct cot_child){
            .parent = parent->id,
            .day = day,
            .place = cot_place_of(&note),
            .plants = cot_thing_int(t, COT_F_PLANTS, 0) + cot_thing_int(t, COT_F_LOST, 0),
        };
    }
    if (s->child_count > 1) qsort(s->child, s->child_count, sizeof *s->child, child_cmp);
    return COT_OK;
}

enum cot_err cot_stand_shared_read_crop(struct cot_book *b, const struct cot_thing *crop, int32_t on,
                                        struct cot_stand_shared *out)
{
    *out = (struct cot_stand_shared){.book = b, .on = on};
    const struct cot_thing *house = cot_book_house(b);
    out->confidence =
        house ? (int32_t)cot_thing_int(house, COT_F_CONFIDENCE, COT_CONFIDENCE_DEFAULT) : COT_CONFIDENCE_DEFAULT;
    out->assumed_seeds =
        house ? cot_thing_int(house, COT_F_ASSUMED_SEEDS, COT_ASSUMED_SEEDS_DEFAULT) : COT_ASSUMED_SEEDS_DEFAULT;
    enum cot_err err = cot_handovers_list(b, on, &out->handover, &out->handover_count);
    if (err == COT_OK) err = read_children(out);
    return err == COT_OK ? cot_past_read(out, crop, &out->past) : err;
}

enum cot_err cot_stand_shared_read(struct cot_book *b, int32_t on, struct cot_stand_shared *out)
{
    return cot_stand_shared_read_crop(b, NULL, on, out);
}

void cot_stand_shared_free(struct cot_stand_shared *s)
{
    cot_past_free(s->past);
    free(s->handover);
    free(s->child);
    *s = (struct cot_stand_shared){0};
}

/* The latest word on holding, by day, then place. */
static bool held_on(const struct cot_stand_shared *s, const struct cot_id *batch)
{
    size_t n;
    const struct cot_note *note = cot_book_history(s->book, batch, &n);
    bool held = false;
    int32_t latest = COT_DAY_NONE;
    for (size_t i = 0; i < n; i++) {
        const struct cot_fact *f = note[i].fact;
        if (note[i].verdict != COT_BOOKED || (f->kind != COT_K_HELD && f->kind != COT_K_RELEASED)) continue;
        int32_t day = (int32_t)cot_fact_int(f, COT_F_DAY, COT_DAY_MAX);
        if (day > s->on || day < latest) continue; /* the history is in order of place */
        latest = day;
        held = f->kind == COT_K_HELD && cot_fact_int(f, COT_F_UNTIL, COT_DAY_MAX) >= s->on;
    }
    return held;
}

static struct cot_id id_of(const struct cot_thing *t)
{
    return t ? t->id : (struct cot_id){{0}};
}

static void read_names(const struct cot_around *a, struct cot_id owner, struct cot_stand *out)
{
    out->batch = a->batch->id;
    out->variety = id_of(a->variety);
    out->format = id_of(a->format);
    out->lot = id_of(a->lot);
    out->parent = id_of(a->parent);
    out->untreated = a->lot && !cot_int_of(a->lot, COT_F_TREATED, 0);
    out->organic = cot_int_of(a->lot, COT_F_ORGANIC, 0) != 0;
    out->owner = owner;
}

/* How the plants hang on what the lot's batches share. */
static void read_shared_part(const struct cot_before *before, const struct cot_learned *learned, struct cot_stand *out)
{
    struct cot_witness own;
    double slope = (1 - out->later_share) * learned->post.slope, sd = sqrt(cot_mix_variance(&out->then));
    cot_witness_of(&learned->post, &before->x, learned->trays, &own);
    out->shared = cot_round9(cot_shared_of(before, &own, slope, sd));
}

enum cot_err cot_stand_read_with(const struct cot_stand_shared *s, const struct cot_thing *batch, struct cot_stand *out)
{
    *out = (struct cot_stand){.counted = COT_DAY_NONE};
    if (batch->type != COT_THING_BATCH || batch->gone) return COT_NOT_FOUND;
    if (cot_thing_int(batch, COT_F_DAY, COT_DAY_MAX) > s->on) return COT_NOT_FOUND;

    struct cot_around a;
    struct cot_in_read r;
    struct cot_odds lot;
    struct cot_before before;
    struct cot_learned learned;
    cot_look_around(s->book, batch, &a);
    const struct cot_id *owner = a.lot ? cot_thing_id(a.lot, COT_F_OWNER) : NULL;
    read_names(&a, owner && cot_book_thing(s->book, owner) ? *owner : id_of(NULL), out);
    out->basis = cot_lot_odds(&a, s->assumed_seeds, &lot);
    enum cot_err err = cot_stand_in_read(s, &a, &r, out);
    cot_past_before(s->past, &a, &lot, &batch->id, &before);
    r.in.before = before.x;
    memcpy(r.in.rho_weight, before.spread.rho_weight, sizeof r.in.rho_weight);
    cot_past_emergence(s->past, &a, &r.in.emergence);
    out->learned = before.spread.batches;
    if (err == COT_OK) err = cot_stand_sum(&r.in, out, &learned);
    if (err == COT_OK) {
        out->held = held_on(s, &batch->id);
        out->out = cot_handed_of_batch(s->handover, s->handover_count, &batch->id, &out->back);
        out->count_day = r.in.count_day;
        out->provisional = out->counted == COT_DAY_NONE || out->counted < r.in.count_day;
        out->later_share = cot_past_later(s->past, &a, r.in.count_day, out->ready, s->on);
        cot_stand_finish(out, s->confidence);
        read_shared_part(&before, &learned, out);
    }
    free(r.work);
    return err;
}

enum cot_err cot_stand_read(struct cot_book *b, const struct cot_thing *batch, int32_t on, struct cot_stand *out)
{
    struct cot_stand_shared s;
    struct cot_around a;
    cot_look_around(b, batch, &a);
    enum cot_err err = cot_stand_shared_read_crop(b, a.crop, on, &s);
    if (err == COT_OK) err = cot_stand_read_with(&s, batch, out);
    cot_stand_shared_free(&s);
    return err;
}

struct cot_stands {
    struct cot_stand_shared shared;
};

enum cot_err cot_stands_new(struct cot_book *b, int32_t on, struct cot_stands **out)
{
    *out = calloc(1, sizeof **out);
    if (!*out) return COT_MEMORY;
    enum cot_err err = cot_stand_shared_read(b, on, &(*out)->shared);
    if (err == COT_OK) return COT_OK;
    cot_stands_free(*out);
    *out = NULL;
    return err;
}

enum cot_err cot_stands_read(const struct cot_stands *s, const struct cot_thing *batch, struct cot_stand *out)
{
    return cot_stand_read_with(&s->shared, batch, out);
}

void cot_stands_free(struct cot_stands *s)
{
    if (s) cot_stand_shared_free(&s->shared);
    free(s);
}

enum cot_err cot_next_read(struct cot_book *b, const struct cot_thing *lot, int32_t on, struct cot_next *out)
{
    struct cot_stand_shared s;
    struct cot_around a = {0};
    struct cot_odds odds;
    struct cot_before before;
    if (lot->type != COT_THING_LOT) return COT_NOT_FOUND;
    cot_look_around_lot(b, lot, &a);
    enum cot_err err = cot_stand_shared_read_crop(b, a.crop, on, &s);
    if (err == COT_OK) {
        out->basis = cot_lot_odds(&a, s.assumed_seeds, &odds);
        cot_past_before(s.past, &a, &odds, NULL, &before);
        out->common = before.common;
        out->spread = before.spread;
        out->later = cot_past_later(s.past, &a, 0, 1, 0); /* all of the time is still to come */
    }
    cot_stand_shared_free(&s);
    return err;
}
