/* Days of planned sowings, batches and order lines. */
#include "cotyledger/core/calendar.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/planned.h"
#include "cotyledger/core/raising.h"
#include "cotyledger/core/stages.h"
#include "cotyledger/core/stays.h"
#include "cotyledger/core/sow.h"

struct reading {
    struct cot_book *book;
    struct cot_fill fill;
    struct cot_calendar calendar;
    struct cot_event *event;
    size_t count, room;
    int32_t from, to;
    bool failed;
};

static const struct cot_thing *linked(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

static int64_t stamp_of(struct cot_book *b, const struct cot_thing *t)
{
    size_t n;
    int64_t stamp = t->made ? t->made->clock : 0;
    const struct cot_note *note = cot_book_history(b, &t->id, &n);
    for (size_t i = 0; i < n; i++)
        if (note[i].fact && note[i].fact->clock > stamp) stamp = note[i].fact->clock;
    return stamp;
}

static void add(struct reading *r, const struct cot_event *like, enum cot_event_sort sort, int32_t day)
{
    if (day == COT_DAY_NONE || day < r->from || day > r->to || r->failed) return;
    if (r->count == r->room) {
        size_t more = r->room ? 2 * r->room : 128;
        struct cot_event *grown = realloc(r->event, more * sizeof *grown);
        if (!grown) {
            r->failed = true;
            return;
        }
        r->event = grown;
        r->room = more;
    }
    struct cot_event *e = &r->event[r->count++];
    *e = *like;
    e->sort = sort;
    e->day = day;
    e->stamp = stamp_of(r->book, like->of);
}

/* Days of what is still to be sown, as planned. One that was sown has them of its batch. */
static void add_planned(struct reading *r, const struct cot_thing *t)
{
    struct cot_planned_done done;
    const struct cot_thing *lot = linked(r->book, t, COT_F_LOT), *variety = linked(r->book, lot, COT_F_VARIETY);
    const struct cot_thing *crop = linked(r->book, variety, COT_F_CROP), *format = linked(r->book, t, COT_F_FORMAT);
    struct cot_event like = {.of = t,
                             .lot = lot,
                             .variety = variety,
                             .format = format,
                             .trays = cot_thing_int(t, COT_F_TRAYS, 0),
                             .bench = cot_thing_text(t, COT_F_BENCH)};
    if (cot_planned_read(r->book, t, r->fill.on, &done) != COT_OK || done.batches > 0) return;
    like.gone = done.state == COT_PLANNED_DROPPED;
    add(r, &like, COT_EVENT_SOW, done.day);
    if (!crop || !format || like.gone) return;
    struct cot_raise raise;
    struct cot_stages g;
    struct cot_raising raising;
    cot_raising_of(r->book, crop, format, done.day, &raising);
    struct cot_raised raised = {r->book, crop, format, raising.pot_format, cot_lot_of_plugs(lot)};
    cot_raise_of(&raised, done.day, &raise);
    (void)cot_raise_stages(&r->calendar, &raise, done.day, &g);
    int64_t count = cot_thing_int(crop, COT_F_COUNT_DAYS, -1);
    if (g.up > g.sown) add(r, &like, COT_EVENT_UP, g.up);
    if (count >= 0) add(r, &like, COT_EVENT_COUNT, done.day + (int32_t)count);
    if (raise.plug > 0) add(r, &like, COT_EVENT_POT_ON, g.potted);
    if (raise.harden > 0) add(r, &like, COT_EVENT_HARDEN, g.harden);
}

static void add_batch(struct reading *r, uint32_t k)
{
    const struct cot_stand *s = &r->fill.stand[k];
    const struct cot_thing *batch = r->fill.batch[k], *variety = cot_book_thing(r->book, &s->variety);
    const struct cot_thing *crop = linked(r->book, variety, COT_F_CROP);
    const struct cot_thing *planned = linked(r->book, batch, COT_F_PLANNED);
    struct cot_raising g;
    if (!batch || !crop) return;
    struct cot_event like = {.of = planned ? planned : batch,
                             .batch = batch,
                             .lot = cot_book_thing(r->book, &s->lot),
                             .variety = variety,
                             .format = cot_book_thing(r->book, &s->format),
                             .trays = s->trays,
                             .bench = cot_thing_text(batch, COT_F_BENCH)};
    bool second = cot_thing_id(batch, COT_F_BATCH) != NULL;
    cot_raising_of_batch(r->book, crop, batch, NULL, &g);
    int64_t count = cot_thing_int(crop, COT_F_COUNT_DAYS, -1), harden = cot_thing_int(crop, COT_F_HARDEN_DAYS, 0);
    if (!second) add(r, &like, COT_EVENT_SOW, s->sown);
    if (!second && g.chamber > 0) add(r, &like, COT_EVENT_UP, s->sown + g.chamber);
    if (!second && count >= 0) add(r, &like, COT_EVENT_COUNT, s->sown + (int32_t)count);
    if (!second && g.pot_format) add(r, &like, COT_EVENT_POT_ON, s->sown + g.pot_days);
    if (harden > 0 && s->ready != COT_DAY_NONE && (second || !g.pot_format))
        add(r, &like, COT_EVENT_HARDEN, cot_first_collected(&r->fill, k) - (int32_t)harden);
}

static void add_line(struct reading *r, const struct cot_thing *t)
{
    const struct cot_fill_line *l = cot_fill_line_of(&r->fill, &t->id);
    struct cot_event like = {.of = t,
                             .farm = cot_book_thing(r->book, &t->farm),
                             .variety = linked(r->book, t, COT_F_VARIETY),
                             .format = linked(r->book, t, COT_F_FORMAT),
                             .trays = cot_thing_int(t, COT_F_TRAYS, 0),
                             .plants = l ? l->wanted : cot_thing_int(t, COT_F_PLANTS, 0),
                             .bench = "",
                             .gone = t->gone};
    add(r, &like, COT_EVENT_COLLECT, l && !t->gone ? l->date : (int32_t)cot_thing_int(t, COT_F_DATE, COT_DAY_NONE));
}

static int by_day(const void *x, const void *y)
{
    const struct cot_event *a = x, *b = y;
    if (a->day != b->day) return a->day < b->day ? -1 : 1;
    if (a->sort != b->sort) return a->sort < b->sort ? -1 : 1;
    int c = strcmp(cot_thing_name(a->of), cot_thing_name(b->of));
    if (c == 0) c = cot_id_cmp(&a->of->id, &b->of->id);
    return c != 0 || !a->batch || !b->batch ? c : cot_id_cmp(&a->batch->id, &b->batch->id);
}

/* A planned sowing that was sown on several days is one event: of its first batch. */
static void keep_first(struct reading *r)
{
    size_t n = 0;
    for (size_t i = 0; i < r->count; i++) {
        bool had = false;
        for (size_t k = 0; k < n && !had; k++)
            had = r->event[k].sort == r->event[i].sort && r->event[k].of == r->event[i].of;
        if (!had) r->event[n++] = r->event[i];
    }
    r->count = n;
}

enum cot_err cot_calendar_read(struct cot_book *b, int32_t on, int32_t from, int32_t to, struct cot_event **out,
                               size_t *n, struct cot_fault *fault)
{
    struct reading r = {.book = b, .from = from, .to = to};
    struct cot_days days = {0};
    int32_t *closed = NULL;
    size_t things;
    *out = NULL;
    *n = 0;
    if (!cot_book_house(b)) return cot_fail(fault, COT_INVALID, "the book has no house yet: fetch first");
    enum cot_err err = cot_fill_read(b, on, &r.fill);
    if (err == COT_OK) err = cot_days_read(b, &days);
    if (err == COT_OK) err = cot_calendar_of(&days, from, COT_PLAN_DAYS, &r.calendar, &closed);
    const struct cot_thing *const *t = err == COT_OK ? cot_book_things(b, COT_THING_PLANNED, &things) : NULL;
    for (size_t i = 0; t && i < things; i++) add_planned(&r, t[i]);
    for (uint32_t k = 0; err == COT_OK && k < r.fill.batch_count; k++) add_batch(&r, k);
    t = err == COT_OK ? cot_book_things(b, COT_THING_LINE, &things) : NULL;
    for (size_t i = 0; t && i < things; i++) add_line(&r, t[i]);
    if (r.failed) err = COT_MEMORY;
    if (err == COT_OK && r.count > 1) qsort(r.event, r.count, sizeof *r.event, by_day);
    if (err == COT_OK) keep_first(&r);
    free(closed);
    cot_days_free(&days);
    cot_fill_free(&r.fill);
    if (err != COT_OK) {
        free(r.event);
        return cot_fail(fault, err, "unable to read the days");
    }
    *out = r.event;
    *n = r.count;
    return COT_OK;
}
