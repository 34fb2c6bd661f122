/* The stand of a batch, read from the book. */
#include "stand/stand.h"

#include <stdlib.h>
#include <string.h>

#define ANCESTORS_MOST 16 /* a batch potted on, potted on again ... */

/* Staff's place: t = min(clock, receipt), or the clock while it is not sent. */
struct cot_place cot_place_of(const struct cot_note *note)
{
    struct cot_place p = {.t = note->fact->clock, .number = note->fact->number};
    if (note->receipt > 0 && note->receipt < p.t) p.t = note->receipt;
    memcpy(p.tag, note->fact->tag, sizeof p.tag);
    p.tag[COT_TAG_MAX] = '\0';
    return p;
}

static const struct cot_thing *linked(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

static int child_cmp(const void *x, const void *y)
{
    const struct cot_child *a = x, *b = y;
    int c = cot_id_cmp(&a->parent, &b->parent);
    if (c != 0) return c;
    if (a->day != b->day) return a->day < b->day ? -1 : 1;
    return cot_place_order(&a->place, &b->place);
}

static enum cot_err read_children(struct cot_stand_shared *s)
{
    size_t all;
    const struct cot_thing *const *things = cot_book_things(s->book, COT_THING_BATCH, &all);
    s->child = malloc((all ? all : 1) * sizeof *s->child);
    if (!s->child) return COT_MEMORY;
    for (size_t i = 0; i < all; i++) {
        const struct cot_thing *t = things[i];
        const struct cot_thing *parent = linked(s->book, t, COT_F_BATCH);
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

enum cot_err cot_stand_shared_read(struct cot_book *b, int32_t on, struct cot_stand_shared *out)
{
    *out = (struct cot_stand_shared){.book = b, .on = on};
    const struct cot_thing *house = cot_book_house(b);
    out->confidence =
        house ? (int32_t)cot_thing_int(house, COT_F_CONFIDENCE, COT_CONFIDENCE_DEFAULT) : COT_CONFIDENCE_DEFAULT;
    out->assumed_seeds =
        house ? cot_thing_int(house, COT_F_ASSUMED_SEEDS, COT_ASSUMED_SEEDS_DEFAULT) : COT_ASSUMED_SEEDS_DEFAULT;
    enum cot_err err = cot_handovers_list(b, on, &out->handover, &out->handover_count);
    return err == COT_OK ? read_children(out) : err;
}

void cot_stand_shared_free(struct cot_stand_shared *s)
{
    free(s->handover);
    free(s->child);
    *s = (struct cot_stand_shared){0};
}

/* Things a batch hangs on. */
struct around {
    const struct cot_thing *batch, *parent, *lot, *variety, *crop, *format;
};

static void look_around(struct cot_book *b, const struct cot_thing *batch, struct around *a)
{
    *a = (struct around){
        .batch = batch, .parent = linked(b, batch, COT_F_BATCH), .format = linked(b, batch, COT_F_FORMAT)};
    const struct cot_thing *at = batch;
    for (int i = 0; at && !a->lot && i < ANCESTORS_MOST; i++) {
        a->lot = linked(b, at, COT_F_LOT);
        at = linked(b, at, COT_F_BATCH);
    }
    a->variety = linked(b, a->lot, COT_F_VARIETY);
    a->crop = linked(b, a->variety, COT_F_CROP);
}

static int64_t int_of(const struct cot_thing *t, enum cot_field f, int64_t otherwise)
{
    return t ? cot_thing_int(t, f, otherwise) : otherwise;
}

static struct cot_id id_of(const struct cot_thing *t)
{
    return t ? t->id : (struct cot_id){{0}};
}

static void read_days(const struct around *a, struct cot_stand *out)
{
    int64_t days = int_of(a->crop, COT_F_TRAY_DAYS, -1), most = int_of(a->crop, COT_F_TRAY_DAYS_MAX, -1);
    int64_t ready = int_of(a->batch, COT_F_READY, COT_DAY_NONE);
    int64_t growing = days;
    if (a->parent && days > 0) growing = days / 2 > COT_POTTED_DAYS_LEAST ? days / 2 : COT_POTTED_DAYS_LEAST;
    if (ready == COT_DAY_NONE && growing >= 0) ready = out->sown + growing;
    out->ready = (int32_t)ready;
    out->past = COT_DAY_NONE;
    if (ready != COT_DAY_NONE)
        out->past = (int32_t)(ready + (days > 0 && most >= days ? most - days : COT_PAST_DAYS_DEFAULT));
}

static void read_rate(const struct cot_stand_shared *s, const struct around *a, struct cot_rate_known *k)
{
    const struct cot_thing *plate = linked(s->book, a->batch, COT_F_PLATE);
    *k = (struct cot_rate_known){
        .potted = a->parent != NULL,
        .test_seeds = a->lot && cot_thing_value(a->lot, COT_F_TEST_GERM) ? int_of(a->lot, COT_F_TEST_SEEDS, 0) : 0,
        .test_germ = int_of(a->lot, COT_F_TEST_GERM, 0),
        .label = int_of(a->lot, COT_F_LABEL_GERM, -1),
        .assumed_seeds = s->assumed_seeds,
        .lawful = int_of(a->crop, COT_F_MIN_GERM, -1),
        .emergence = int_of(a->crop, COT_F_EMERGENCE, COT_EMERGENCE_DEFAULT),
        .usable = int_of(a->crop, COT_F_USABLE_SHARE, COT_USABLE_DEFAULT),
        .per_cell = int_of(a->batch, COT_F_PER_CELL, int_of(plate, COT_F_HOLES, 1)),
        .at_least = int_of(a->batch, COT_F_AT_LEAST, 1),
    };
}

/* Cells of the batch, and of one of its trays. */
static void read_cells(const struct around *a, struct cot_stand_in *in, struct cot_stand *out)
{
    int64_t rows = int_of(a->format, COT_F_ROWS, 0), cols = int_of(a->format, COT_F_COLS, 0);
    int64_t part = int_of(a->batch, COT_F_TRAY_ROWS, 0);
    out->trays = (int32_t)int_of(a->batch, COT_F_TRAYS, 0);
    in->trays = out->trays;
    in->tray_cells = rows * cols;
    if (out->trays == 0 && part > 0) {
        in->trays = 1;
        in->tray_cells = (part < rows ? part : rows) * cols;
    }
    in->cells = in->trays * in->tray_cells;
    if (a->parent) {
        int64_t plants = int_of(a->batch, COT_F_PLANTS, 0);
        if (plants < in->cells) in->cells = plants;
    }
}

static void read_pooled(const struct cot_fact *f, struct cot_tray_count *c)
{
    *c = (struct cot_tray_count){
        .tray = (int32_t)cot_fact_int(f, COT_F_TRAYS, 0),
        .looked = (int32_t)cot_fact_int(f, COT_F_LOOKED, 0),
        .usable = (int32_t)cot_fact_int(f, COT_F_USABLE, COT_COUNT_UNKNOWN),
        .blanks = (int32_t)cot_fact_int(f, COT_F_BLANKS, COT_COUNT_UNKNOWN),
        .culls = (int32_t)cot_fact_int(f, COT_F_CULLS, COT_COUNT_UNKNOWN),
        .doubles = (int32_t)cot_fact_int(f, COT_F_DOUBLES, COT_COUNT_UNKNOWN),
    };
}

/* Work that changes the stand; false for any other entry. */
static bool read_work(const struct cot_note *note, struct cot_work *w)
{
    const struct cot_fact *f = note->fact;
    const struct cot_value *counts = cot_fact_value(f, COT_F_COUNTS), *which = cot_fact_value(f, COT_F_WHICH);
    *w = (struct cot_work){.day = (int32_t)cot_fact_int(f, COT_F_DAY, COT_DAY_MAX), .place = cot_place_of(note)};
    if (which && which->type == COT_T_NUMBERS) {
        w->which = which->v.numbers;
        w->which_len = which->len;
    }
    w->plants = cot_fact_int(f, COT_F_PLANTS, COT_COUNT_UNKNOWN);
    w->trays = cot_fact_int(f, COT_F_TRAYS, 0);
    w->were_usable = cot_fact_int(f, COT_F_WERE_USABLE, 1) != 0;
    switch (f->kind) {
    case COT_K_COUNT:
        w->what = counts && counts->type == COT_T_TRAYS ? COT_WORK_COUNT : COT_WORK_POOLED;
        if (w->what == COT_WORK_COUNT) {
            w->counts = counts->v.counts;
            w->count_len = counts->len;
        } else {
            read_pooled(f, &w->pooled);
        }
        return true;
    case COT_K_LOST:
        w->what = COT_WORK_LOST;
        return true;
    case COT_K_PATCHED:
        w->what = COT_WORK_PATCHED;
        return w->plants > 0;
    default:
        return false;
    }
}

/* Children of the batch: the first of them, and how many. */
static const struct cot_child *children_of(const struct cot_stand_shared *s, const struct cot_id *batch, size_t *n)
{
    size_t low = 0, high = s->child_count;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (cot_id_cmp(&s->child[mid].parent, batch) < 0) low = mid + 1;
        else high = mid;
    }
    *n = 0;
    while (low + *n < s->child_count && cot_id_cmp(&s->child[low + *n].parent, batch) == 0) ++*n;
    return s->child + low;
}

static enum cot_err gather_work(const struct cot_stand_shared *s, const struct cot_id *batch, struct cot_work **out,
                                size_t *n)
{
    size_t notes, children;
    const struct cot_note *note = cot_book_history(s->book, batch, &notes);
    const struct cot_child *child = children_of(s, batch, &children);
    struct cot_work *w = malloc((notes + children + 1) * sizeof *w);
    *out = w;
    *n = 0;
    if (!w) return COT_MEMORY;
    for (size_t i = 0; i < notes; i++)
        if (note[i].verdict == COT_BOOKED && read_work(&note[i], &w[*n]) && w[*n].day <= s->on) ++*n;
    for (size_t i = 0; i < children; i++)
        w[(*n)++] = (struct cot_work){.what = COT_WORK_LOST,
                                      .day = child[i].day,
                                      .place = child[i].place,
                                      .plants = child[i].plants,
                                      .were_usable = true};
    cot_work_sort(w, *n);
    return COT_OK;
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

static void read_names(const struct around *a, struct cot_id owner, struct cot_stand *out)
{
    out->batch = a->batch->id;
    out->variety = id_of(a->variety);
    out->format = id_of(a->format);
    out->lot = id_of(a->lot);
    out->parent = id_of(a->parent);
    out->untreated = a->lot && !int_of(a->lot, COT_F_TREATED, 0);
    out->organic = int_of(a->lot, COT_F_ORGANIC, 0) != 0;
    out->owner = owner;
}

enum cot_err cot_stand_read_with(const struct cot_stand_shared *s, const struct cot_thing *batch, struct cot_stand *out)
{
    *out = (struct cot_stand){.counted = COT_DAY_NONE};
    if (batch->type != COT_THING_BATCH || batch->gone) return COT_NOT_FOUND;
    out->sown = (int32_t)cot_thing_int(batch, COT_F_DAY, COT_DAY_MAX);
    if (out->sown > s->on) return COT_NOT_FOUND;

    struct around a;
    struct cot_rate_known known;
    struct cot_stand_in in = {0};
    struct cot_work *work = NULL;
    look_around(s->book, batch, &a);
    read_names(&a, id_of(linked(s->book, a.lot, COT_F_OWNER)), out);
    read_days(&a, out);
    read_cells(&a, &in, out);
    read_rate(s, &a, &known);
    out->basis = cot_rate_before(&known, &in.a, &in.b);
    in.usable_share = (double)known.usable / 1000;

    enum cot_err err = gather_work(s, &batch->id, &work, &in.work_len);
    in.work = work;
    if (err == COT_OK) err = cot_stand_sum(&in, out);
    if (err == COT_OK) {
        out->held = held_on(s, &batch->id);
        out->out = cot_handed_of_batch(s->handover, s->handover_count, &batch->id, &out->back);
        int64_t count_day = out->sown + int_of(a.crop, COT_F_COUNT_DAYS, COT_COUNT_DAYS_DEFAULT);
        out->provisional = out->counted == COT_DAY_NONE || out->counted < count_day;
        cot_stand_finish(out, s->confidence);
    }
    free(work);
    return err;
}

enum cot_err cot_stand_read(struct cot_book *b, const struct cot_thing *batch, int32_t on, struct cot_stand *out)
{
    struct cot_stand_shared s;
    enum cot_err err = cot_stand_shared_read(b, on, &s);
    if (err == COT_OK) err = cot_stand_read_with(&s, batch, out);
    cot_stand_shared_free(&s);
    return err;
}
