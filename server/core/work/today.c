/* Jobs of the day. */
#include "cotyledger/core/today.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/count.h"
#include "cotyledger/core/place.h"
#include "cotyledger/core/planned.h"
#include "cotyledger/core/plate.h"
#include "cotyledger/core/raising.h"
#include "cotyledger/core/stays.h"

#define COUNT_TRAYS 3 /* counted of a batch that nothing hangs on yet: house assumption, no source */
#define PATCH_LEAST 5 /* fewer blanks are not worth a job of their own: house assumption, no source */
#define THIN_LEAST 5  /* the same of doubles that fill no blank */
#define PATCH_DAYS 10 /* after the count blanks can still be filled, doubles thinned; common practice, no source */
#define POT_AGAIN 10  /* per cent of a batch that is still there when some was potted on: the rest is to follow */

struct reading {
    struct cot_book *book;
    struct cot_today *out;
    struct cot_fill fill;
    struct cot_days days;
    struct cot_benches benches; /* read when a job first asks for room */
    int64_t *promised;          /* beside its places: spots that jobs of this list take already */
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

/* Where a batch stands, and what was done about its cells. */
struct standing {
    struct cot_stood part[COT_STOOD_MOST];
    int parts;
    const char *bench; /* of most of it */
    int64_t unmoved;   /* trays that nobody took out of the chamber yet */
    int64_t unframed;  /* trays that are in no cold frame */
    bool patched, thinned;
};

static bool is_frame(struct reading *r, const char *bench)
{
    const struct cot_thing *place = cot_place_named(r->book, bench);
    return place && cot_thing_int(place, COT_F_SORT, COT_PLACE_BENCH) == COT_PLACE_FRAME;
}

static void read_standing(struct reading *r, uint32_t k, struct standing *out)
{
    size_t n;
    const struct cot_thing *batch = r->fill.batch[k];
    const struct cot_note *note = cot_book_history(r->book, &batch->id, &n);
    int64_t trays = r->fill.stand[k].trays > 0 ? r->fill.stand[k].trays : 1, most = -1;
    *out = (struct standing){.bench = ""};
    for (size_t i = 0; i < n; i++) {
        if (note[i].verdict != COT_BOOKED || !note[i].fact) continue;
        out->patched = out->patched || note[i].fact->kind == COT_K_PATCHED;
        out->thinned = out->thinned || note[i].fact->kind == COT_K_THINNED;
    }
    out->parts = cot_stood_read(r->book, batch, trays, r->out->to, out->part);
    for (int i = 0; i < out->parts; i++) {
        const struct cot_stood *p = &out->part[i];
        if (!p->moved) out->unmoved += p->trays;
        if (!is_frame(r, p->bench)) out->unframed += p->trays;
        if (p->trays <= most) continue;
        most = p->trays;
        out->bench = p->bench;
    }
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

static int32_t work_after(struct reading *r, int32_t day)
{
    int32_t worked = cot_working_after(&r->days, day);
    return worked == COT_DAY_NONE ? day : worked;
}

/* --- Counting ----------------------------------------------------------------------------------------------------- */

static bool numbered(const int32_t *list, int32_t n, int32_t number)
{
    for (int32_t i = 0; i < n; i++)
        if (list[i] == number) return true;
    return false;
}

/* Adds numbers of trays that were counted by their number, as far as there is room; how many there are then. */
static int32_t add_counted(struct reading *r, const struct cot_thing *batch, int32_t out[static COT_GONE_MOST],
                           int32_t count)
{
    size_t n;
    const struct cot_note *note = cot_book_history(r->book, &batch->id, &n);
    for (size_t i = 0; i < n; i++) {
        const struct cot_fact *f = note[i].verdict == COT_BOOKED ? note[i].fact : NULL;
        const struct cot_value *v = f && f->kind == COT_K_COUNT ? cot_fact_value(f, COT_F_COUNTS) : NULL;
        for (uint32_t k = 0; v && v->type == COT_T_TRAYS && k < v->len && count < COT_GONE_MOST; k++)
            if (!numbered(out, count, v->v.counts[k].tray)) out[count++] = v->v.counts[k].tray;
    }
    return count;
}

static int by_number(const void *x, const void *y)
{
    int32_t a = *(const int32_t *)x, b = *(const int32_t *)y;
    return a < b ? -1 : a > b;
}

/* Draws among the trays that are still there, and were not counted when `again`. */
static void draw_trays(struct reading *r, struct cot_today_job *j, int32_t trays, int64_t n, bool again)
{
    int32_t out[COT_GONE_MOST], count = cot_trays_gone(r->book, j->batch, r->out->to, out);
    if (again) count = add_counted(r, j->batch, out, count);
    if (count > 1) qsort(out, (size_t)count, sizeof *out, by_number);
    if (n > COT_TODAY_WHICH) n = COT_TODAY_WHICH;
    j->which_count = cot_today_draw(&j->batch->id, trays > count ? trays - count : 0, (int32_t)n, j->which);
    for (int32_t i = 0; i < j->which_count; i++)
        for (int32_t k = 0; k < count; k++) j->which[i] += out[k] <= j->which[i];
    j->trays = j->which_count;
}

/* On the crop's day; again when that count was an early one, or a line in doubt would be settled by more trays. */
static void add_count(struct reading *r, uint32_t k, const struct cot_thing *crop, const struct standing *m)
{
    const struct cot_stand *s = &r->fill.stand[k];
    int64_t days = cot_thing_int(crop, COT_F_COUNT_DAYS, -1);
    struct cot_count_advice advice = {0};
    bool counted = s->counted != COT_DAY_NONE, more = counted && s->counted >= s->sown + days;
    int32_t day = work_after(r, more ? s->counted + 1 : s->sown + (int32_t)days);
    if (days < 0 || day > r->out->to || day < r->out->from - COT_TODAY_LATE || (more && s->trays < 1)) return;
    if (cot_count_advise(&r->fill, k, &advice) != COT_OK) r->failed = true;
    if (more && advice.trays < 1) return;
    struct cot_today_job *j = add(r, COT_TODAY_COUNT, day);
    if (!j) return;
    describe(r, j, k, m->bench);
    j->again = counted;
    if (s->trays < 1) j->rows = cot_thing_int(j->batch, COT_F_TRAY_ROWS, 1);
    else draw_trays(r, j, s->trays, advice.trays > 0 ? advice.trays : COUNT_TRAYS, more);
    if (j->rows == 0 && j->which_count == 0) r->out->jobs--; /* none is left to count */
}

/* --- Blanks and doubles ------------------------------------------------------------------------------------------- */

/* A cell with more plants than it is to have: sown with one seed, or so that one comes up. */
static bool wants_one(const struct cot_thing *batch)
{
    return cot_thing_int(batch, COT_F_AT_LEAST, 1) == 1;
}

static void add_cells(struct reading *r, uint32_t k, const struct standing *m)
{
    const struct cot_stand *s = &r->fill.stand[k];
    int64_t fill = s->doubles < s->blanks ? s->doubles : s->blanks, thin = s->doubles - (m->patched ? fill : 0);
    struct cot_today_job *j;
    if (s->counted == COT_DAY_NONE || r->out->from > s->counted + PATCH_DAYS) return;
    int32_t day = work_after(r, s->counted + 1);
    if (fill >= PATCH_LEAST && !m->patched && !m->thinned && (j = add(r, COT_TODAY_PATCH, day))) {
        describe(r, j, k, m->bench);
        j->plants = fill;
    }
    if (!m->patched && fill >= PATCH_LEAST) thin -= fill;
    if (thin >= THIN_LEAST && !m->thinned && wants_one(r->fill.batch[k]) && (j = add(r, COT_TODAY_THIN, day))) {
        describe(r, j, k, m->bench);
        j->plants = thin;
    }
}

/* --- Moves -------------------------------------------------------------------------------------------------------- */

static bool read_benches(struct reading *r)
{
    if (r->promised || r->failed) return !r->failed;
    struct cot_fault fault;
    r->failed = cot_benches_read(r->book, r->out->from, &r->benches, &fault) != COT_OK;
    r->promised = calloc(r->benches.places + 1, sizeof *r->promised);
    r->failed = r->failed || !r->promised;
    return !r->failed;
}

/* Spots of a frame that are free from one day to another, what already is to come from this batch aside; below 0: it
 * is not open all the time. */
static int64_t frame_room(struct reading *r, size_t place, const struct cot_thing *batch, int32_t from, int32_t to)
{
    int64_t least = INT64_MAX;
    for (int32_t day = from; day <= to; day++) {
        int64_t room = cot_benches_room(&r->benches, r->benches.place[place], day);
        if (room == 0) return -1;
        for (size_t i = 0; i < r->benches.stays; i++) {
            const struct cot_stay *s = &r->benches.stay[i];
            if (s->place == r->benches.place[place] && s->batch != batch && s->from <= day && day <= s->to)
                room -= s->spots;
        }
        if (room < least) least = room;
    }
    return least - r->promised[place];
}

/* The frame that the plan names, when it is open; else the open one with the least room that is enough, or, where none
 * has enough, the one with most. NULL: none is open. */
static const struct cot_thing *find_frame(struct reading *r, uint32_t k, int32_t day, int64_t spots)
{
    const struct cot_thing *planned = named(r->book, r->fill.batch[k], COT_F_PLANNED);
    const struct cot_thing *said = planned ? cot_place_named(r->book, cot_thing_text(planned, COT_F_FRAME)) : NULL;
    int32_t until = r->fill.stand[k].ready > day ? r->fill.stand[k].ready : day;
    int64_t room, best_room = -1;
    size_t best = 0;
    if (!read_benches(r)) return NULL;
    for (size_t i = 0; i < r->benches.places; i++) {
        if (cot_thing_int(r->benches.place[i], COT_F_SORT, COT_PLACE_BENCH) != COT_PLACE_FRAME) continue;
        if ((room = frame_room(r, i, r->fill.batch[k], day, until)) < 0) continue;
        bool enough = room >= spots, had = best_room >= spots;
        bool better = r->benches.place[i] == said ||
                      (r->benches.place[best] != said && (best_room < 0 || (enough != had ? enough
                                                                            : enough      ? room < best_room
                                                                                          : room > best_room)));
        if (!better) continue;
        best = i;
        best_room = room;
    }
    if (best_room < 0) return NULL;
    r->promised[best] += spots;
    return r->benches.place[best];
}

static void add_harden(struct reading *r, uint32_t k, int32_t days, const struct standing *m)
{
    const struct cot_stand *s = &r->fill.stand[k];
    int32_t out = cot_first_collected(&r->fill, k) - days, day = cot_working_before(&r->days, out);
    if (day == COT_DAY_NONE) day = out;
    if (m->unframed < 1 || day > r->out->to || day < r->out->from - COT_TODAY_LATE) return;
    int64_t spots = cot_trays_spots(cot_book_thing(r->book, &s->format), cot_usual_footprint(r->book), m->unframed);
    const struct cot_thing *frame = find_frame(r, k, day > r->out->from ? day : r->out->from, spots);
    struct cot_today_job *j = frame ? add(r, COT_TODAY_HARDEN, day) : NULL;
    if (!j) return;
    describe(r, j, k, cot_thing_name(frame));
    j->trays = m->unframed;
}

static void add_pot_on(struct reading *r, uint32_t k, const struct cot_raising *g, const struct standing *m)
{
    const struct cot_stand *s = &r->fill.stand[k];
    int64_t left = s->likely_today - s->out, all = left + s->lost;
    if (left < 1 || (potted_on(r, r->fill.batch[k]) && 100 * left < POT_AGAIN * all)) return;
    struct cot_today_job *j = add(r, COT_TODAY_POT_ON, work_after(r, s->sown + g->pot_days));
    if (!j) return;
    describe(r, j, k, m->bench);
    int64_t cells = cot_thing_int(g->pot_format, COT_F_ROWS, 1) * cot_thing_int(g->pot_format, COT_F_COLS, 1);
    j->format = g->pot_format;
    j->plants = left;
    j->trays = (left + cells - 1) / cells;
}

static void add_batch(struct reading *r, uint32_t k)
{
    const struct cot_stand *s = &r->fill.stand[k];
    const struct cot_thing *batch = r->fill.batch[k], *variety = cot_book_thing(r->book, &s->variety);
    const struct cot_thing *crop = named(r->book, variety, COT_F_CROP);
    struct cot_raising g;
    struct cot_today_job *j;
    struct standing m;
    if (!batch || !crop || s->likely - s->out < 1) return;
    bool second = cot_thing_id(batch, COT_F_BATCH) != NULL;
    read_standing(r, k, &m);
    cot_raising_of_batch(r->book, crop, batch, NULL, &g);
    if (!second && g.chamber > 0 && m.unmoved > 0 && r->out->from <= s->sown + g.chamber + COT_UP_LATE &&
        (j = add(r, COT_TODAY_UP, s->sown + g.chamber))) {
        describe(r, j, k, cot_thing_text(batch, COT_F_BENCH));
        j->trays = m.unmoved;
    }
    if (!second) add_count(r, k, crop, &m);
    add_cells(r, k, &m);
    if (!second && g.pot_format) add_pot_on(r, k, &g, &m);
    int32_t harden = (int32_t)cot_thing_int(crop, COT_F_HARDEN_DAYS, 0);
    if (harden > 0 && s->ready != COT_DAY_NONE && (second || !g.pot_format)) add_harden(r, k, harden, &m);
}

/* --- Collecting --------------------------------------------------------------------------------------------------- */

static void add_pull(struct reading *r, const struct cot_allot *a)
{
    const struct cot_fill_line *l = &r->fill.line[a->line];
    const struct cot_stand *s = &r->fill.stand[a->batch];
    struct standing m;
    if (!r->fill.batch[a->batch] || !l->line || a->plants < 1) return;
    struct cot_today_job *j = add(r, COT_TODAY_PULL, l->date);
    if (!j) return;
    read_standing(r, a->batch, &m);
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
    if (err == COT_OK) err = cot_days_read(b, &r.days);
    if (err != COT_OK) {
        cot_fill_free(&r.fill);
        return cot_fail(fault, err, "unable to read the book");
    }
    const struct cot_thing *const *planned = cot_book_things(b, COT_THING_PLANNED, &n);
    for (size_t i = 0; i < n; i++) add_planned(&r, planned[i]);
    for (uint32_t k = 0; k < r.fill.batch_count; k++) add_batch(&r, k);
    for (uint32_t i = 0; i < r.fill.allot_count; i++) add_pull(&r, &r.fill.allot[i]);
    add_trays(&r);
    err = r.failed ? COT_MEMORY : order_days(&r);
    cot_fill_free(&r.fill);
    cot_days_free(&r.days);
    cot_benches_free(&r.benches);
    free(r.promised);
    if (err != COT_OK) cot_today_free(out);
    return err == COT_MEMORY ? cot_fail(fault, err, "out of memory") : err;
}
