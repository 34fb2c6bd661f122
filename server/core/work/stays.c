/* Where trays stand, and for how long. */
#include "cotyledger/core/stays.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/planned.h"
#include "cotyledger/core/raising.h"
#include "cotyledger/core/sow.h"
#include "cotyledger/core/stages.h"

static const struct cot_thing *linked(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

/* --- Where a batch was put ---------------------------------------------------------------------------------------- */

static int by_number(const void *x, const void *y)
{
    int32_t a = *(const int32_t *)x, b = *(const int32_t *)y;
    return a < b ? -1 : a > b;
}

static const struct cot_fact *booked_by(const struct cot_note *note, enum cot_kind kind, int32_t on)
{
    const struct cot_fact *f = note->verdict == COT_BOOKED ? note->fact : NULL;
    return f && f->kind == kind && cot_fact_int(f, COT_F_DAY, COT_DAY_NONE) <= on ? f : NULL;
}

int32_t cot_trays_gone(struct cot_book *b, const struct cot_thing *batch, int32_t on,
                       int32_t gone[static COT_GONE_MOST])
{
    size_t n;
    int32_t count = 0, kept = 0;
    const struct cot_note *note = cot_book_history(b, &batch->id, &n);
    for (size_t i = 0; i < n; i++) {
        const struct cot_fact *f = booked_by(&note[i], COT_K_LOST, on);
        const struct cot_value *v = f ? cot_fact_value(f, COT_F_WHICH) : NULL;
        for (uint32_t k = 0; v && v->type == COT_T_NUMBERS && k < v->len && count < COT_GONE_MOST; k++)
            gone[count++] = v->v.numbers[k];
    }
    if (count > 1) qsort(gone, (size_t)count, sizeof *gone, by_number);
    for (int32_t i = 0; i < count; i++)
        if (i == 0 || gone[i] != gone[i - 1]) gone[kept++] = gone[i];
    return kept;
}

#define NAMED_MOST 400

/* Part 0 is where all trays are that no move names. */
struct stood {
    struct cot_stood part[COT_STOOD_MOST];
    int parts;
    struct {
        int32_t number;
        int part;
    } named[NAMED_MOST];
    int named_count;
};

static int part_at(struct stood *s, const char *bench, int32_t since)
{
    for (int i = 1; i < s->parts; i++)
        if (cot_same_group(s->part[i].bench, bench)) return i;
    if (s->parts < COT_STOOD_MOST) s->part[s->parts++] = (struct cot_stood){bench, 0, since, true};
    return s->parts - 1;
}

static void move_some(struct stood *s, const struct cot_value *which, const char *bench, int32_t day)
{
    int to = part_at(s, bench, day);
    for (uint32_t k = 0; k < which->len; k++) {
        int i = 0;
        while (i < s->named_count && s->named[i].number != which->v.numbers[k]) i++;
        if (i == NAMED_MOST) continue;
        s->named[i].number = which->v.numbers[k];
        s->named[i].part = to;
        if (i == s->named_count) s->named_count++;
    }
}

static void take_move(struct stood *s, const struct cot_fact *f)
{
    const struct cot_value *to = cot_fact_value(f, COT_F_BENCH), *which = cot_fact_value(f, COT_F_WHICH);
    int32_t day = (int32_t)cot_fact_int(f, COT_F_DAY, COT_DAY_NONE);
    if (!to || to->type != COT_T_TEXT) return;
    if (which && which->type == COT_T_NUMBERS) {
        move_some(s, which, to->v.text, day);
        return;
    }
    s->part[0] = (struct cot_stood){to->v.text, 0, day, true};
    s->parts = 1;
    s->named_count = 0;
}

int cot_stood_read(struct cot_book *b, const struct cot_thing *batch, int64_t trays, int32_t on,
                   struct cot_stood out[static COT_STOOD_MOST])
{
    size_t n;
    int kept = 0;
    struct stood s = {.parts = 1};
    const struct cot_note *note = cot_book_history(b, &batch->id, &n);
    s.part[0] = (struct cot_stood){cot_thing_text(batch, COT_F_BENCH), 0,
                                   (int32_t)cot_thing_int(batch, COT_F_DAY, COT_DAY_NONE), false};
    for (size_t i = 0; i < n; i++) {
        const struct cot_fact *f = booked_by(&note[i], COT_K_MOVED, on);
        if (f) take_move(&s, f);
    }
    s.part[0].trays = trays;
    for (int i = 0; i < s.named_count && s.part[0].trays > 0; i++) {
        s.part[s.named[i].part].trays++;
        s.part[0].trays--;
    }
    for (int i = 0; i < s.parts; i++)
        if (s.part[i].trays > 0) out[kept++] = s.part[i];
    if (kept == 0) out[kept++] = s.part[s.parts - 1];
    return kept;
}

/* --- A batch's stays ---------------------------------------------------------------------------------------------- */

static bool is_potted(const struct cot_stand *s)
{
    static const struct cot_id zero;
    return cot_id_cmp(&s->parent, &zero) != 0;
}

/* Whole trays that are still here of so many: as plants went out. */
static int64_t trays_left(const struct cot_stand *s, int32_t gone)
{
    int64_t trays = s->trays > 0 ? s->trays - gone : 1;
    if (trays < 1) trays = 1;
    if (s->out <= 0 || s->likely <= 0) return trays;
    return (trays * (s->likely - s->out) + s->likely - 1) / s->likely;
}

static int32_t last_day(const struct cot_fill *fill, uint32_t k)
{
    const struct cot_stand *s = &fill->stand[k];
    int32_t until = fill->on - 1;
    for (uint32_t i = 0; i < fill->allot_count; i++)
        if (fill->allot[i].batch == k && fill->line[fill->allot[i].line].date > until)
            until = fill->line[fill->allot[i].line].date;
    return s->ready > until ? s->ready : until;
}

int32_t cot_first_collected(const struct cot_fill *fill, uint32_t k)
{
    int32_t first = COT_DAY_MAX, ready = fill->stand[k].ready;
    for (uint32_t i = 0; i < fill->allot_count; i++)
        if (fill->allot[i].batch == k && fill->line[fill->allot[i].line].date < first)
            first = fill->line[fill->allot[i].line].date;
    if (ready == COT_DAY_NONE) return first == COT_DAY_MAX ? COT_DAY_NONE : first;
    return first == COT_DAY_MAX || first < ready ? ready : first;
}

static enum cot_place_sort sort_of(const struct cot_thing *place, enum cot_place_sort otherwise)
{
    return place ? (enum cot_place_sort)cot_thing_int(place, COT_F_SORT, COT_PLACE_BENCH) : otherwise;
}

/* The only chamber that takes the crop; NULL: there are several, or none. */
static const struct cot_thing *only_chamber(struct cot_book *b, const struct cot_thing *crop)
{
    size_t n;
    const struct cot_thing *found = NULL, *const *place = cot_book_things(b, COT_THING_PLACE, &n);
    const char *group = crop ? cot_thing_text(crop, COT_F_GROUP) : "";
    for (size_t i = 0; i < n; i++) {
        if (place[i]->gone || sort_of(place[i], COT_PLACE_BENCH) != COT_PLACE_CHAMBER) continue;
        if (!cot_place_takes(place[i], group)) continue;
        if (found) return NULL;
        found = place[i];
    }
    return found;
}

struct staying {
    struct cot_book *book;
    struct cot_stay *out;
    int count;
    struct cot_stay like; /* what is the same in all */
    int64_t footprint;
};

static void stay(struct staying *s, enum cot_place_sort sort, const char *said, int64_t trays, int32_t from, int32_t to)
{
    if (s->count == COT_STAYS_MOST || to < from || trays < 1) return;
    struct cot_stay *t = &s->out[s->count++];
    *t = s->like;
    t->place = cot_place_named(s->book, said);
    t->sort = sort_of(t->place, sort);
    t->said = said;
    t->from = from;
    t->to = to;
    t->trays = trays;
    t->spots = cot_trays_spots(t->format, s->footprint, trays);
}

/* Days of one part of a batch from `on` on: in the chamber, on the bench, in the frame. */
struct spell {
    int32_t on, up, harden, until;
    const char *chamber, *frame;
};

static void stay_part(struct staying *s, const struct cot_stood *p, const struct spell *d)
{
    int32_t on_bench = d->on;
    enum cot_place_sort now = sort_of(cot_place_named(s->book, p->bench), COT_PLACE_BENCH);
    if (!p->moved && d->on <= d->up + COT_UP_LATE && d->up > (int32_t)p->since) {
        int32_t to = d->up > d->on ? d->up - 1 : d->on;
        s->like.late = d->up < d->on;
        stay(s, COT_PLACE_CHAMBER, d->chamber, p->trays, d->on, to);
        on_bench = to + 1;
    }
    s->like.late = d->until < d->on;
    int32_t until = d->until > d->on ? d->until : d->on;
    if (now == COT_PLACE_FRAME || !d->frame[0] || d->harden > until) {
        stay(s, COT_PLACE_BENCH, p->bench, p->trays, on_bench, until);
        return;
    }
    int32_t out = d->harden > on_bench ? d->harden : on_bench + (d->harden < d->on && now == COT_PLACE_BENCH);
    stay(s, COT_PLACE_BENCH, p->bench, p->trays, on_bench, out - 1);
    stay(s, COT_PLACE_FRAME, d->frame, p->trays, out, until);
}

int cot_stays_of_batch(struct cot_book *b, const struct cot_fill *fill, uint32_t k,
                       struct cot_stay out[static COT_STAYS_MOST])
{
    const struct cot_stand *s = &fill->stand[k];
    const struct cot_thing *batch = fill->batch[k], *variety = cot_book_thing(b, &s->variety);
    const struct cot_thing *crop = linked(b, variety, COT_F_CROP), *format = cot_book_thing(b, &s->format);
    const struct cot_thing *planned = linked(b, batch, COT_F_PLANNED), *chamber = only_chamber(b, crop);
    struct staying w = {.book = b, .out = out, .footprint = cot_usual_footprint(b)};
    struct cot_stood part[COT_STOOD_MOST];
    struct cot_raising g;
    int32_t gone[COT_GONE_MOST];
    if (!batch || !format || s->likely <= s->out) return 0;
    w.like = (struct cot_stay){.batch = batch, .variety = variety, .format = format};
    cot_raising_of_batch(b, crop, batch, NULL, &g);
    bool chambered = !is_potted(s) && g.chamber > 0;
    int32_t harden = crop ? (int32_t)cot_thing_int(crop, COT_F_HARDEN_DAYS, 0) : 0;
    struct spell d = {.on = fill->on,
                      .up = s->sown + (chambered ? g.chamber : 0),
                      .until = last_day(fill, k),
                      .chamber = planned && cot_thing_text(planned, COT_F_CHAMBER)[0]
                                     ? cot_thing_text(planned, COT_F_CHAMBER)
                                 : chamber ? cot_thing_name(chamber)
                                           : "",
                      .frame = planned && !g.pot_format ? cot_thing_text(planned, COT_F_FRAME) : ""};
    d.harden = harden > 0 && s->ready != COT_DAY_NONE ? cot_first_collected(fill, k) - harden : COT_DAY_MAX;
    int64_t trays = trays_left(s, s->trays > 0 ? cot_trays_gone(b, batch, fill->on, gone) : 0);
    int parts = cot_stood_read(b, batch, trays, fill->on, part);
    for (int i = 0; i < parts; i++) stay_part(&w, &part[i], &d);
    return w.count;
}

/* --- A planned sowing's stays ------------------------------------------------------------------------------------- */

#define ANY_CONFIDENCE 900 /* what is likely does not depend on it */

int64_t cot_planned_pots(struct cot_book *b, const struct cot_thing *planned, int64_t trays, int32_t on,
                         const struct cot_thing **format)
{
    struct cot_raising g;
    struct cot_sow s;
    struct cot_sow_found found;
    struct cot_sow_answer a;
    const struct cot_thing *lot = linked(b, planned, COT_F_LOT), *sown = linked(b, planned, COT_F_FORMAT);
    const struct cot_thing *crop = linked(b, linked(b, lot, COT_F_VARIETY), COT_F_CROP);
    const struct cot_sow_asked asked = {.lot = lot,
                                        .format = sown,
                                        .plate = linked(b, planned, COT_F_PLATE),
                                        .per_cell = cot_thing_int(planned, COT_F_PER_CELL, 0),
                                        .at_least = cot_thing_int(planned, COT_F_AT_LEAST, 0)};
    *format = NULL;
    if (!lot || !sown || trays < 1 || cot_lot_of_plugs(lot)) return 0;
    cot_raising_of(b, crop, sown, (int32_t)cot_thing_int(planned, COT_F_SOW_DAY, on), &g);
    if (!g.pot_format || g.pot_days == COT_RAISING_UNKNOWN) return 0;
    if (cot_sow_read(b, &asked, on, &s, &found, NULL) != COT_OK) return 0;
    if (cot_sow_promise(&s, trays, 0, ANY_CONFIDENCE, &a, NULL) != COT_OK || a.likely < 1) return 0;
    int64_t cells = cot_thing_int(g.pot_format, COT_F_ROWS, 1) * cot_thing_int(g.pot_format, COT_F_COLS, 1);
    *format = g.pot_format;
    return (a.likely + cells - 1) / cells;
}

/* The first and the last day on which its lines collect, from `ready` on; `ready` when it names none. */
static void line_days(const struct cot_fill *fill, const struct cot_thing *planned, int32_t ready, int32_t *first,
                      int32_t *last)
{
    const struct cot_value *v = cot_thing_value(planned, COT_F_LINES);
    *first = COT_DAY_MAX;
    *last = ready;
    for (uint32_t i = 0; v && v->type == COT_T_IDS && i < v->len; i++) {
        const struct cot_fill_line *l = cot_fill_line_of(fill, &v->v.ids[i]);
        if (l && l->date > *last) *last = l->date;
        if (l && l->date < *first) *first = l->date;
    }
    if (*first == COT_DAY_MAX || *first < ready) *first = ready;
}

static void stay_planned(struct staying *w, const struct cot_thing *t, const struct cot_stages *g, int32_t out,
                         int32_t until, int64_t pots, const struct cot_thing *pot)
{
    const char *bench = cot_thing_text(t, COT_F_BENCH), *frame = cot_thing_text(t, COT_F_FRAME);
    int64_t trays = w->like.trays;
    int32_t gone = until + 1, harden = frame[0] && out >= g->up ? out : gone;
    int32_t potted = pots > 0 && g->potted != COT_DAY_NONE ? g->potted : harden;
    stay(w, COT_PLACE_CHAMBER, cot_thing_text(t, COT_F_CHAMBER), trays, g->sown, g->up - 1);
    stay(w, COT_PLACE_BENCH, bench, trays, g->up, potted - 1);
    if (pots > 0) {
        w->like.format = pot;
        trays = pots;
    }
    stay(w, COT_PLACE_BENCH, bench, trays, potted, harden - 1);
    stay(w, COT_PLACE_FRAME, frame, trays, harden, until);
}

int cot_stays_of_planned(struct cot_book *b, const struct cot_fill *fill, const struct cot_thing *planned,
                         const struct cot_calendar *c, struct cot_stay out[static COT_STAYS_MOST])
{
    const struct cot_thing *lot = linked(b, planned, COT_F_LOT), *variety = linked(b, lot, COT_F_VARIETY), *pot;
    const struct cot_thing *crop = linked(b, variety, COT_F_CROP), *format = linked(b, planned, COT_F_FORMAT);
    struct cot_planned_done done;
    struct cot_raise raise;
    struct cot_stages g;
    if (planned->gone || !crop || !format || cot_planned_read(b, planned, fill->on, &done) != COT_OK) return 0;
    if (done.state == COT_PLANNED_DONE || done.state == COT_PLANNED_DROPPED) return 0;
    int64_t trays = done.rows ? done.batches == 0 : done.planned - done.sown, pots;
    struct staying w = {.book = b, .out = out, .footprint = cot_usual_footprint(b)};
    pots = cot_planned_pots(b, planned, done.rows ? 0 : trays, fill->on, &pot);
    struct cot_raised r = {b, crop, format, pot, cot_lot_of_plugs(lot)};
    int32_t day = done.day > fill->on ? done.day : fill->on;
    cot_raise_of(&r, day, &raise);
    (void)cot_raise_stages(c, &raise, day, &g);
    w.like = (struct cot_stay){
        .planned = planned, .variety = variety, .format = format, .trays = trays, .late = done.day < fill->on};
    int32_t first, last;
    line_days(fill, planned, g.ready, &first, &last);
    stay_planned(&w, planned, &g, raise.harden > 0 ? first - raise.harden : COT_DAY_NONE, last, pots, pot);
    return w.count;
}
