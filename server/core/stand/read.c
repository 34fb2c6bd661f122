/* What the book says of one batch, as the plain figures that the stand is computed from. */
#include "cotyledger/core/raising.h"
#include "stand/read.h"

#include <stdlib.h>
#include <string.h>

#define ANCESTORS_MOST 16 /* a batch potted on, potted on again ... */

static const struct cot_thing *linked(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

void cot_look_around(struct cot_book *b, const struct cot_thing *batch, struct cot_around *a)
{
    *a = (struct cot_around){
        .batch = batch, .parent = linked(b, batch, COT_F_BATCH), .format = linked(b, batch, COT_F_FORMAT)};
    const struct cot_thing *at = batch;
    for (int i = 0; at && !a->lot && i < ANCESTORS_MOST; i++) {
        a->lot = linked(b, at, COT_F_LOT);
        at = linked(b, at, COT_F_BATCH);
    }
    cot_look_around_lot(b, a->lot, a);
    a->plate = linked(b, batch, COT_F_PLATE);
}

void cot_look_around_lot(struct cot_book *b, const struct cot_thing *lot, struct cot_around *a)
{
    a->lot = lot;
    a->variety = linked(b, lot, COT_F_VARIETY);
    a->crop = linked(b, a->variety, COT_F_CROP);
}

bool cot_grown(const struct cot_around *a)
{
    return a->parent || cot_lot_of_plugs(a->lot);
}

int64_t cot_int_of(const struct cot_thing *t, enum cot_field f, int64_t otherwise)
{
    return t ? cot_thing_int(t, f, otherwise) : otherwise;
}

void cot_read_days(struct cot_book *b, const struct cot_around *a, struct cot_stand *out)
{
    struct cot_raising r;
    cot_raising_of_batch(b, a->crop, a->batch, a->parent, &r);
    int32_t ready = (int32_t)cot_int_of(a->batch, COT_F_READY, COT_DAY_NONE), growing = r.days;
    if (a->parent && !r.second && r.days > 0)
        growing = r.days / 2 > COT_POTTED_DAYS_LEAST ? r.days / 2 : COT_POTTED_DAYS_LEAST;
    if (ready == COT_DAY_NONE && growing >= 0) ready = out->sown + growing;
    out->ready = ready;
    out->past = COT_DAY_NONE;
    if (ready != COT_DAY_NONE)
        out->past = ready + (r.days > 0 && r.days_max >= r.days ? r.days_max - r.days : COT_PAST_DAYS_DEFAULT);
}

/* A seed's odds of the lot, its own test or label and the crop's settings; of plants potted on, that of their taking.
 */
enum cot_stand_basis cot_lot_odds(const struct cot_around *a, int64_t assumed_seeds, struct cot_odds *out)
{
    const struct cot_rate_known k = {
        .potted = cot_grown(a),
        .test_seeds = a->lot && cot_thing_value(a->lot, COT_F_TEST_GERM) ? cot_int_of(a->lot, COT_F_TEST_SEEDS, 0) : 0,
        .test_germ = cot_int_of(a->lot, COT_F_TEST_GERM, 0),
        .label = cot_int_of(a->lot, COT_F_LABEL_GERM, -1),
        .assumed_seeds = assumed_seeds,
        .lawful = cot_int_of(a->crop, COT_F_MIN_GERM, -1),
        .emergence = cot_int_of(a->crop, COT_F_EMERGENCE, COT_EMERGENCE_DEFAULT),
        .usable = cot_int_of(a->crop, COT_F_USABLE_SHARE, COT_USABLE_DEFAULT),
    };
    return cot_rate_before(&k, out);
}

/* What makes a cell usable: one plant of one seed where nothing else is said, so q = s. */
static void read_cell(struct cot_book *b, const struct cot_around *a, struct cot_stand_in *in, struct cot_cell *cell)
{
    const struct cot_sow_asked asked = {.lot = a->lot,
                                        .plate = a->plate,
                                        .per_cell = cot_int_of(a->batch, COT_F_PER_CELL, 0),
                                        .at_least = cot_int_of(a->batch, COT_F_AT_LEAST, 0),
                                        .put_right = cot_int_of(a->batch, COT_F_PUT_RIGHT, 0) != 0};
    struct cot_sow_found found;
    if (a->parent || (!a->plate && asked.per_cell <= 1 && asked.at_least <= 1)) return;
    if (cot_sow_cell(b, &asked, cell, &found, NULL) != COT_OK) return;
    in->usable = cot_cell_usable;
    in->cell = cell;
}

/* Cells of the batch, and of one of its trays. */
static void read_cells(const struct cot_around *a, struct cot_stand_in *in, struct cot_stand *out)
{
    int64_t rows = cot_int_of(a->format, COT_F_ROWS, 0), cols = cot_int_of(a->format, COT_F_COLS, 0);
    int64_t part = cot_int_of(a->batch, COT_F_TRAY_ROWS, 0);
    out->trays = (int32_t)cot_int_of(a->batch, COT_F_TRAYS, 0);
    in->trays = out->trays;
    in->tray_cells = rows * cols;
    if (out->trays == 0 && part > 0) {
        in->trays = 1;
        in->tray_cells = (part < rows ? part : rows) * cols;
    }
    in->cells = in->trays * in->tray_cells;
    if (a->parent) {
        int64_t plants = cot_int_of(a->batch, COT_F_PLANTS, 0);
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
    w->picked = cot_fact_int(f, COT_F_PICKED, 0) != 0;
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
                                      .were_usable = true,
                                      .moved = true};
    cot_work_sort(w, *n);
    return COT_OK;
}

enum cot_err cot_stand_in_read(const struct cot_stand_shared *s, const struct cot_around *a, struct cot_in_read *r,
                               struct cot_stand *out)
{
    *r = (struct cot_in_read){0};
    out->sown = (int32_t)cot_thing_int(a->batch, COT_F_DAY, COT_DAY_MAX);
    cot_read_days(s->book, a, out);
    read_cells(a, &r->in, out);
    read_cell(s->book, a, &r->in, &r->cell);
    r->in.usable_share = (double)cot_int_of(a->crop, COT_F_USABLE_SHARE, COT_USABLE_DEFAULT) / 1000;
    r->in.sown = out->sown;
    r->in.count_day = out->sown + (int32_t)cot_int_of(a->crop, COT_F_COUNT_DAYS, COT_COUNT_DAYS_DEFAULT);
    enum cot_err err = gather_work(s, &a->batch->id, &r->work, &r->in.work_len);
    r->in.work = r->work;
    return err;
}
