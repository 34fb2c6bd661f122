/* Jobs of the day. */
#include "cotyledger/core/today.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/count.h"
#include "cotyledger/core/place.h"
#include "cotyledger/core/planned.h"
#include "cotyledger/core/plate.h"
#include "cotyledger/core/raising.h"

#define COUNT_TRAYS 3 /* counted of a batch that nothing hangs on yet: house assumption, no source */
#define PATCH_LEAST 5 /* fewer blanks are not worth a job of their own: house assumption, no source */
#define UP_LATE 7     /* days: what is in the chamber longer was moved, and nobody recorded it */
#define PATCH_DAYS 10 /* after the count blanks can still be filled; common practice, no source */

struct reading {
    struct cot_book *book;
    struct cot_today *out;
    struct cot_fill fill;
    size_t room;
    bool failed;
};

void cot_today_free(struct cot_today *t)
{
    free(t->job);
    *t = (struct cot_today){0};
}

static const struct cot_thing *named(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

/* Adds the job when its day is in the list, or not too long before; returns it, or NULL. */
static struct cot_today_job *add(struct reading *r, enum cot_today_sort sort, int32_t day)
{
    struct cot_today *o = r->out;
    if (day == COT_DAY_NONE || day > o->to || day < o->from - COT_TODAY_LATE || r->failed) return NULL;
    if (o->jobs == r->room) {
        size_t more = r->room ? 2 * r->room : 64;
        struct cot_today_job *grown = realloc(o->job, more * sizeof *grown);
        if (!grown) {
            r->failed = true;
            return NULL;
        }
        o->job = grown;
        r->room = more;
    }
    struct cot_today_job *j = &o->job[o->jobs++];
    *j = (struct cot_today_job){.sort = sort, .day = day, .late = day < o->from ? o->from - day : 0, .bench = ""};
    return j;
}

/* --- The draw ----------------------------------------------------------------------------------------------------- */

/* SplitMix64 (Steele, Lea and Flood 2014). */
static uint64_t next(uint64_t *state)
{
    uint64_t z = (*state += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

/* Selection sampling (Knuth, The Art of Computer Programming, vol. 2, 3.4.2, algorithm S): every set is as likely. */
int32_t cot_today_draw(const struct cot_id *batch, int32_t trays, int32_t n, int32_t out[static COT_TODAY_WHICH])
{
    uint64_t state = 0;
    int32_t got = 0;
    for (size_t i = 0; i < sizeof batch->b; i++) state = state * 257 + batch->b[i];
    if (n > COT_TODAY_WHICH) n = COT_TODAY_WHICH;
    if (n > trays) n = trays;
    for (int32_t t = 1; t <= trays && got < n; t++)
        if ((int64_t)(next(&state) % (uint64_t)(trays - t + 1)) < n - got) out[got++] = t;
    return got;
}

/* --- Sowing ------------------------------------------------------------------------------------------------------- */

static void add_planned(struct reading *r, const struct cot_thing *t)
{
    struct cot_planned_done done;
    if (t->gone || cot_planned_read(r->book, t, r->out->to, &done) != COT_OK || done.state == COT_PLANNED_DONE) return;
    struct cot_today_job *j = add(r, COT_TODAY_SOW, done.day);
    if (!j) return;
    j->planned = t;
    j->lot = named(r->book, t, COT_F_LOT);
    j->variety = named(r->book, j->lot, COT_F_VARIETY);
    j->format = named(r->book, t, COT_F_FORMAT);
    j->plate = named(r->book, t, COT_F_PLATE);
    *(done.rows ? &j->rows : &j->trays) = done.planned - done.sown; /* what is left of it */
    j->per_cell = cot_thing_int(t, COT_F_PER_CELL, 1);
    j->bench = cot_thing_text(t, COT_F_BENCH);
    j->treated = j->lot && (cot_thing_int(j->lot, COT_F_TREATED, 0) || cot_thing_text(j->lot, COT_F_TREATMENT)[0]);
}

/* --- Batches ------------------------------------------------------------------------------------------------------ */

struct moves {
    int32_t last;      /* day of the last move; COT_DAY_NONE */
    const char *bench; /* where it stands */
    bool framed, patched;
};

static void read_moves(struct reading *r, const struct cot_thing *batch, struct moves *m)
{
    size_t n;
    const struct cot_note *note = cot_book_history(r->book, &batch->id, &n);
    *m = (struct moves){COT_DAY_NONE, cot_thing_text(batch, COT_F_BENCH), false, false};
    for (size_t i = 0; i < n; i++) {
        if (note[i].verdict != COT_BOOKED || !note[i].fact) continue;
        if (note[i].fact->kind == COT_K_PATCHED || note[i].fact->kind == COT_K_THINNED) m->patched = true;
        const struct cot_value *to = cot_fact_value(note[i].fact, COT_F_BENCH);
        if (note[i].fact->kind != COT_K_MOVED || !to || to->type != COT_T_TEXT) continue;
        if (cot_fact_value(note[i].fact, COT_F_WHICH)) continue; /* some trays: the others are to come */
        m->last = (int32_t)cot_fact_int(note[i].fact, COT_F_DAY, COT_DAY_NONE);
        m->bench = to->v.text;
    }
    const struct cot_thing *place = cot_place_named(r->book, m->bench);
    m->framed = place && cot_thing_int(place, COT_F_SORT, COT_PLACE_BENCH) == COT_PLACE_FRAME;
}

static void describe(struct reading *r, struct cot_today_job *j, uint32_t k, const char *bench)
{
    const struct cot_stand *s = &r->fill.stand[k];
    j->batch = r->fill.batch[k];
    j->variety = cot_book_thing(r->book, &s->variety);
    j->lot = cot_book_thing(r->book, &s->lot);
    j->format = cot_book_thing(r->book, &s->format);
    j->trays = s->trays;
    j->bench = bench;
}

static bool potted_on(struct reading *r, const struct cot_thing *batch)
{
    for (uint32_t k = 0; k < r->fill.batch_count; k++)
        if (cot_id_cmp(&r->fill.stand[k].parent, &batch->id) == 0) return true;
    return false;
}

static int by_number(const void *x, const void *y)
{
    int32_t a = *(const int32_t *)x, b = *(const int32_t *)y;
    return a < b ? -1 : a > b;
}

#define GONE_MOST 400 /* as many as one entry can name, and more than anybody writes down */

/* Numbers of trays that were lost as a whole, rising, each once; how many. */
static int32_t trays_gone(struct reading *r, const struct cot_thing *batch, int32_t gone[static GONE_MOST])
{
    size_t n;
    int32_t count = 0, kept = 0;
    const struct cot_note *note = cot_book_history(r->book, &batch->id, &n);
    for (size_t i = 0; i < n; i++) {
        const struct cot_value *v = note[i].fact ? cot_fact_value(note[i].fact, COT_F_WHICH) : NULL;
        bool lost = note[i].verdict == COT_BOOKED && note[i].fact && note[i].fact->kind == COT_K_LOST;
        for (uint32_t k = 0; lost && v && v->type == COT_T_NUMBERS && k < v->len && count < GONE_MOST; k++)
            gone[count++] = v->v.numbers[k];
    }
    if (count > 1) qsort(gone, (size_t)count, sizeof *gone, by_number);
    for (int32_t i = 0; i < count; i++)
        if (i == 0 || gone[i] != gone[i - 1]) gone[kept++] = gone[i];
    return kept;
}

/* Draws among the trays that are still there. */
static void draw_trays(struct reading *r, struct cot_today_job *j, int32_t trays, int32_t n)
{
    int32_t gone[GONE_MOST], count = trays_gone(r, j->batch, gone);
    j->which_count = cot_today_draw(&j->batch->id, trays - count, n, j->which);
    for (int32_t i = 0; i < j->which_count; i++)
        for (int32_t k = 0; k < count; k++) j->which[i] += gone[k] <= j->which[i];
    j->trays = j->which_count;
}

static void add_count(struct reading *r, uint32_t k, const struct cot_thing *crop, const struct moves *m)
{
    const struct cot_stand *s = &r->fill.stand[k];
    int64_t days = cot_thing_int(crop, COT_F_COUNT_DAYS, -1);
    struct cot_count_advice advice = {0};
    if (days < 0 || s->counted != COT_DAY_NONE || s->trays < 1) return;
    struct cot_today_job *j = add(r, COT_TODAY_COUNT, s->sown + (int32_t)days);
    if (!j) return;
    describe(r, j, k, m->bench);
    if (cot_count_advise(&r->fill, k, &advice) != COT_OK) r->failed = true;
    int64_t n = advice.trays > 0 ? advice.trays : COUNT_TRAYS;
    draw_trays(r, j, s->trays, n > COT_TODAY_WHICH ? COT_TODAY_WHICH : (int32_t)n);
}

static void add_patch(struct reading *r, uint32_t k, const struct moves *m)
{
    const struct cot_stand *s = &r->fill.stand[k];
    int64_t plants = s->doubles < s->blanks ? s->doubles : s->blanks;
    if (s->counted == COT_DAY_NONE || plants < PATCH_LEAST || m->patched || r->out->from > s->counted + PATCH_DAYS)
        return;
    struct cot_today_job *j = add(r, COT_TODAY_PATCH, s->counted + 1);
    if (!j) return;
    describe(r, j, k, m->bench);
    j->plants = plants;
}

/* A frame that is open on the day; NULL: none. */
static const struct cot_thing *open_frame(struct reading *r, int32_t day)
{
    size_t n;
    struct cot_days days;
    const struct cot_thing *const *place = cot_book_things(r->book, COT_THING_PLACE, &n), *found = NULL;
    if (cot_days_read(r->book, &days) != COT_OK) r->failed = true;
    for (size_t i = 0; i < n && !found; i++)
        if (!place[i]->gone && cot_thing_int(place[i], COT_F_SORT, COT_PLACE_BENCH) == COT_PLACE_FRAME &&
            cot_place_open(&days, place[i], day))
            found = place[i];
    cot_days_free(&days);
    return found;
}

static void add_batch(struct reading *r, uint32_t k)
{
    const struct cot_stand *s = &r->fill.stand[k];
    const struct cot_thing *batch = r->fill.batch[k], *variety = cot_book_thing(r->book, &s->variety);
    const struct cot_thing *crop = named(r->book, variety, COT_F_CROP), *frame;
    struct cot_raising g;
    struct cot_today_job *j;
    struct moves m;
    if (!batch || !crop || s->likely - s->out < 1) return;
    bool second = cot_thing_id(batch, COT_F_BATCH) != NULL;
    read_moves(r, batch, &m);
    cot_raising_of_batch(r->book, crop, batch, NULL, &g);
    if (!second && g.chamber > 0 && m.last == COT_DAY_NONE && r->out->from <= s->sown + g.chamber + UP_LATE &&
        (j = add(r, COT_TODAY_UP, s->sown + g.chamber)))
        describe(r, j, k, m.bench);
    if (!second) add_count(r, k, crop, &m);
    add_patch(r, k, &m);
    if (!second && g.pot_format && !potted_on(r, batch) && (j = add(r, COT_TODAY_POT_ON, s->sown + g.pot_days))) {
        describe(r, j, k, m.bench);
        int64_t cells = cot_thing_int(g.pot_format, COT_F_ROWS, 1) * cot_thing_int(g.pot_format, COT_F_COLS, 1);
        j->format = g.pot_format;
        j->plants = s->likely_today - s->out;
        j->trays = (j->plants + cells - 1) / cells;
    }
    int32_t harden = (int32_t)cot_thing_int(crop, COT_F_HARDEN_DAYS, 0);
    if (harden > 0 && s->ready != COT_DAY_NONE && !m.framed && !(g.pot_format && !second) &&
        (frame = open_frame(r, s->ready - harden)) && (j = add(r, COT_TODAY_HARDEN, s->ready - harden))) {
        describe(r, j, k, cot_thing_name(frame));
    }
}

/* --- Collecting --------------------------------------------------------------------------------------------------- */

static void add_pull(struct reading *r, const struct cot_allot *a)
{
    const struct cot_fill_line *l = &r->fill.line[a->line];
    const struct cot_stand *s = &r->fill.stand[a->batch];
    struct moves m;
    if (!r->fill.batch[a->batch] || !l->line || a->plants < 1) return;
    struct cot_today_job *j = add(r, COT_TODAY_PULL, l->date);
    if (!j) return;
    read_moves(r, r->fill.batch[a->batch], &m);
    describe(r, j, a->batch, m.bench);
    j->line = l->line;
    j->farm = l->farm;
    j->plants = a->plants + a->extra;
    j->trays = s->trays > 0 && s->likely > 0 ? (j->plants * s->trays + s->likely - 1) / s->likely : 0;
}

/* --- The list ----------------------------------------------------------------------------------------------------- */

static int32_t listed_on(const struct cot_today *t, const struct cot_today_job *j)
{
    return j->day < t->from ? t->from : j->day;
}

/* Whether an earlier job of the list, on the same day, is in the same shared tray. */
static bool shares_tray(const struct cot_today *t, size_t number)
{
    const struct cot_today_job *j = &t->job[number];
    const char *name = j->planned ? cot_thing_text(j->planned, COT_F_SHARED) : "";
    for (size_t i = 0; i < number && name[0]; i++)
        if (t->job[i].planned && t->job[i].format == j->format && listed_on(t, &t->job[i]) == listed_on(t, j) &&
            strcmp(cot_thing_text(t->job[i].planned, COT_F_SHARED), name) == 0)
            return true;
    return false;
}

/* Trays to fill for a day's sowings and pottings, a job a format. */
static void add_trays(struct reading *r)
{
    size_t jobs = r->out->jobs;
    for (size_t i = 0; i < jobs; i++) {
        const struct cot_today_job by = r->out->job[i];
        int32_t day = listed_on(r->out, &by);
        bool first = by.sort == COT_TODAY_SOW || by.sort == COT_TODAY_POT_ON;
        int64_t trays = 0;
        for (size_t k = 0; k < jobs && first; k++) {
            const struct cot_today_job *j = &r->out->job[k];
            if ((j->sort != COT_TODAY_SOW && j->sort != COT_TODAY_POT_ON) || j->format != by.format ||
                listed_on(r->out, j) != day)
                continue;
            if (k < i) first = false;
            trays += j->rows > 0 ? !shares_tray(r->out, k) : j->trays;
        }
        struct cot_today_job *j = first && by.format ? add(r, COT_TODAY_TRAYS, day) : NULL;
        if (!j) continue;
        j->format = by.format;
        j->trays = trays;
    }
}

static int by_list(const void *x, const void *y)
{
    const struct cot_today_job *a = x, *b = y;
    int32_t da = a->late > 0 ? a->day + a->late : a->day, db = b->late > 0 ? b->day + b->late : b->day;
    if (da != db) return da < db ? -1 : 1;
    if (a->sort != b->sort) return a->sort < b->sort ? -1 : 1;
    if (a->sort == COT_TODAY_PULL && a->farm != b->farm) {
        int c = strcmp(cot_thing_name(a->farm), cot_thing_name(b->farm));
        if (c != 0) return c;
    }
    if (a->late != b->late) return a->late > b->late ? -1 : 1;
    int c = strcmp(a->bench, b->bench);
    if (c != 0) return c;
    const struct cot_thing *ta = a->planned ? a->planned
                                 : a->batch ? a->batch
                                            : a->format,
                           *tb = b->planned ? b->planned
                                 : b->batch ? b->batch
                                            : b->format;
    c = strcmp(cot_thing_name(ta), cot_thing_name(tb));
    return c != 0 ? c : strcmp(a->line ? cot_thing_name(a->line) : "", b->line ? cot_thing_name(b->line) : "");
}

/* Sowings job[0 .. n-1] of one day, in the order of fewest plate changes: each has its own plate alone. */
static enum cot_err order_plates(struct reading *r, struct cot_today_job *job, uint32_t n)
{
    size_t plates;
    const struct cot_thing *const *plate = cot_book_things(r->book, COT_THING_PLATE, &plates);
    struct cot_dayset *usable = calloc(n, sizeof *usable);
    struct cot_today_job *copy = malloc(n * sizeof *copy);
    uint32_t *order = calloc(n, sizeof *order);
    int32_t *on = calloc(n, sizeof *on);
    void *space = malloc(cot_plate_day_bytes(n));
    struct cot_plate_day got;
    enum cot_err err = usable && copy && order && on && space ? COT_OK : COT_MEMORY;
    if (plates > COT_PLAN_DAYS) plates = COT_PLAN_DAYS;
    for (uint32_t i = 0; err == COT_OK && i < n; i++)
        for (size_t k = 0; k < plates; k++)
            if (job[i].plate == plate[k]) cot_dayset_add(&usable[i], (int32_t)k);
    if (err == COT_OK) err = cot_plate_order(usable, n, (uint32_t)plates, -1, NULL, space, order, on, &got, NULL);
    if (err == COT_OK) memcpy(copy, job, n * sizeof *copy);
    for (uint32_t i = 0; err == COT_OK && i < n; i++) job[i] = copy[order[i]];
    free(usable);
    free(copy);
    free(order);
    free(on);
    free(space);
    return err;
}

static enum cot_err order_days(struct reading *r)
{
    struct cot_today *o = r->out;
    enum cot_err err = COT_OK;
    if (o->jobs > 1) qsort(o->job, o->jobs, sizeof *o->job, by_list);
    for (size_t i = 0; err == COT_OK && i < o->jobs;) {
        size_t n = 1;
        while (i + n < o->jobs && o->job[i + n].sort == o->job[i].sort &&
               listed_on(o, &o->job[i + n]) == listed_on(o, &o->job[i]))
            n++;
        if (o->job[i].sort == COT_TODAY_SOW && n > 1) err = order_plates(r, &o->job[i], (uint32_t)n);
        i += n;
    }
    return err;
}

enum cot_err cot_today_read(struct cot_book *b, int32_t from, int32_t to, struct cot_today *out,
                            struct cot_fault *fault)
{
    struct reading r = {.book = b, .out = out};
    size_t n;
    *out = (struct cot_today){.from = from, .to = to};
    if (!cot_book_house(b)) return cot_fail(fault, COT_INVALID, "the book has no house yet: fetch first");
    enum cot_err err = cot_fill_read(b, from, &r.fill);
    if (err != COT_OK) return cot_fail(fault, err, "unable to read the book");
    const struct cot_thing *const *planned = cot_book_things(b, COT_THING_PLANNED, &n);
    for (size_t i = 0; i < n; i++) add_planned(&r, planned[i]);
    for (uint32_t k = 0; k < r.fill.batch_count; k++) add_batch(&r, k);
    for (uint32_t i = 0; i < r.fill.allot_count; i++) add_pull(&r, &r.fill.allot[i]);
    add_trays(&r);
    err = r.failed ? COT_MEMORY : order_days(&r);
    cot_fill_free(&r.fill);
    if (err != COT_OK) cot_today_free(out);
    return err == COT_MEMORY ? cot_fail(fault, err, "out of memory") : err;
}
