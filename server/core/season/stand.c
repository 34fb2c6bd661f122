/* Planned sowings that stand: each takes the lines it can serve, and is kept, made larger or smaller, or dropped. */
#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/planned.h"
#include "season/in.h"

static const struct cot_thing *named(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

static bool same_thing(const struct cot_thing *a, const struct cot_thing *b)
{
    return a == b || (a && b && cot_id_cmp(&a->id, &b->id) == 0);
}

/* What it is, before any line is given to it. */
static bool describe(struct cot_planning *p, const struct cot_thing *t, struct cot_season_sowing *s)
{
    const struct cot_thing *lot = named(p->book, t, COT_F_LOT), *variety = named(p->book, lot, COT_F_VARIETY);
    *s = (struct cot_season_sowing){.change = COT_SEASON_KEPT,
                                    .planned = t,
                                    .lot = lot,
                                    .variety = variety,
                                    .crop = named(p->book, variety, COT_F_CROP),
                                    .format = named(p->book, t, COT_F_FORMAT),
                                    .plugs = cot_lot_of_plugs(lot),
                                    .plate = named(p->book, t, COT_F_PLATE),
                                    .trays = cot_thing_int(t, COT_F_TRAYS, 1),
                                    .rows = cot_thing_int(t, COT_F_TRAY_ROWS, 0),
                                    .per_cell = cot_thing_int(t, COT_F_PER_CELL, 1),
                                    .at_least = cot_thing_int(t, COT_F_AT_LEAST, 1),
                                    .day = COT_DAY_NONE,
                                    .was_day = (int32_t)cot_thing_int(t, COT_F_SOW_DAY, COT_DAY_NONE),
                                    .retest = lot && cot_test_old(p->book, lot, p->ask->on),
                                    .pinned = cot_thing_text(t, COT_F_PINS)[0] != '\0'};
    return s->lot && s->variety && s->crop && s->format;
}

static bool names(const struct cot_thing *planned, const struct cot_thing *line)
{
    const struct cot_value *v = cot_thing_value(planned, COT_F_LINES);
    for (uint32_t i = 0; v && v->type == COT_T_IDS && i < v->len; i++)
        if (cot_id_cmp(&v->v.ids[i], &line->id) == 0) return true;
    return false;
}

/* --- What is looked for often ------------------------------------------------------------------------------------- */

struct index {
    uint32_t *by_variety; /* lines, those of one variety together, in queue order */
    uint32_t *by_line;    /* lines by their identity */
    uint8_t *named;       /* beside the lines: planned sowings that name it, 2 for more */
};

struct keyed {
    struct cot_id id;
    uint32_t number;
};

static int by_key(const void *x, const void *y)
{
    const struct keyed *a = x, *b = y;
    int c = cot_id_cmp(&a->id, &b->id);
    return c != 0 ? c : a->number < b->number ? -1 : a->number > b->number;
}

static void sort_by(struct cot_planning *p, bool variety, struct keyed *keyed, uint32_t *out)
{
    for (uint32_t i = 0; i < p->wants; i++)
        keyed[i] =
            (struct keyed){variety && p->want[i].l.variety ? p->want[i].l.variety->id : p->want[i].l.line->id, i};
    if (p->wants > 1) qsort(keyed, p->wants, sizeof *keyed, by_key);
    for (uint32_t i = 0; i < p->wants; i++) out[i] = keyed[i].number;
}

static const struct cot_id *variety_at(const struct cot_planning *p, uint32_t i)
{
    return p->want[i].l.variety ? &p->want[i].l.variety->id : &p->want[i].l.line->id;
}

/* The first of the lines so sorted whose key is not less. */
static uint32_t place_of(const struct cot_planning *p, const uint32_t *sorted, bool variety, const struct cot_id *id)
{
    uint32_t low = 0, high = p->wants;
    while (low < high) {
        uint32_t mid = low + (high - low) / 2;
        const struct cot_id *at = variety ? variety_at(p, sorted[mid]) : &p->want[sorted[mid]].l.line->id;
        if (cot_id_cmp(at, id) < 0) low = mid + 1;
        else high = mid;
    }
    return low;
}

static void count_names(struct cot_planning *p, struct index *x)
{
    size_t n;
    const struct cot_thing *const *all = cot_book_things(p->book, COT_THING_PLANNED, &n);
    for (size_t i = 0; i < n; i++) {
        const struct cot_value *v = all[i]->gone ? NULL : cot_thing_value(all[i], COT_F_LINES);
        for (uint32_t k = 0; v && v->type == COT_T_IDS && k < v->len; k++) {
            uint32_t at = place_of(p, x->by_line, false, &v->v.ids[k]);
            bool found = at < p->wants && cot_id_cmp(&p->want[x->by_line[at]].l.line->id, &v->v.ids[k]) == 0;
            if (found && x->named[x->by_line[at]] < 2) x->named[x->by_line[at]]++;
        }
    }
}

static void free_index(struct index *x)
{
    free(x->by_variety);
    free(x->by_line);
    free(x->named);
}

static enum cot_err make_index(struct cot_planning *p, struct index *x)
{
    struct keyed *keyed = malloc((p->wants + 1) * sizeof *keyed);
    *x = (struct index){.by_variety = malloc((p->wants + 1) * sizeof *x->by_variety),
                        .by_line = malloc((p->wants + 1) * sizeof *x->by_line),
                        .named = calloc(p->wants + 1, sizeof *x->named)};
    bool room = keyed && x->by_variety && x->by_line && x->named;
    if (room) {
        sort_by(p, true, keyed, x->by_variety);
        sort_by(p, false, keyed, x->by_line);
        count_names(p, x);
    }
    free(keyed);
    return room ? COT_OK : COT_MEMORY;
}

/* --- Taking lines ------------------------------------------------------------------------------------------------- */

/* Whether the sowing may serve the line: sown in its tray, from a lot it may have, on a day of its window (its own day
 * when that is pinned, or when it is not to move for this line). */
static bool serves(struct cot_planning *p, const struct cot_season_sowing *s, const struct cot_wanting *w,
                   const struct cot_seeding *of, const struct cot_dayset *days, bool stays)
{
    if (w->l.why != COT_SEASON_PLANNED || w->open <= 0 || !of) return false;
    if (!same_thing(s->variety, w->l.variety) || !same_thing(s->format, w->sow_format)) return false;
    if ((stays || cot_pinned(s->planned, COT_F_SOW_DAY)) &&
        !cot_dayset_have(&w->window.days, s->was_day - p->calendar.first))
        return false;
    return cot_dayset_meet(days, &w->window.days);
}

static const struct cot_seeding *of_lot(const struct cot_seeding *seeding, uint32_t lots, const struct cot_thing *lot)
{
    for (uint32_t i = 0; i < lots; i++)
        if (seeding[i].lot && same_thing(seeding[i].lot, lot)) return &seeding[i];
    return NULL;
}

struct standing {
    struct cot_season_sowing *s;
    struct cot_dayset days;
    struct cot_seeding *seeding; /* COT_SEASON_LOTS + 1 of them, scratch */
    struct cot_seeding mine;
    uint32_t w; /* a line that it serves: how it is raised */
    bool any;
    int64_t room; /* plants it still has, of its trays as planned */
};

/* Gives it a line, or as much of one as it has plants for. */
static enum cot_err give(struct cot_planning *p, struct standing *t, uint32_t i, bool most)
{
    int64_t plants = p->want[i].open;
    if (most && plants > t->room) plants = t->room;
    if (plants <= 0) return COT_OK;
    t->room -= plants;
    cot_dayset_both(&t->days, &p->want[i].window.days);
    return cot_season_give(p, t->s, i, plants);
}

/* The first line it serves says how it is raised, and so how many plants it has. */
static void begin(struct cot_planning *p, struct standing *t, uint32_t i, const struct cot_seeding *of)
{
    int64_t pot = 0;
    t->mine = *of;
    t->w = i;
    t->any = true;
    if (p->want[i].sow_format != p->want[i].l.format) {
        t->s->pot_format = p->want[i].l.format;
        (void)cot_season_trays(p, &t->mine, &p->want[i], p->want[i].open, &pot);
    }
    t->room = cot_season_yield(p, &t->mine, &p->want[i], t->s->trays, t->s->pot_format ? 4 * t->s->trays : 0);
}

/* Lines that it names come first, in queue order; then others for whom it has plants to spare. A line that several
 * planned sowings name is divided among them as they have plants. */
static enum cot_err take_lines(struct cot_planning *p, struct standing *t, const struct index *x)
{
    enum cot_err err = COT_OK;
    uint32_t from = place_of(p, x->by_variety, true, &t->s->variety->id);
    for (int pass = 0; pass < 2; pass++) {
        for (uint32_t k = from; err == COT_OK && k < p->wants; k++) {
            uint32_t i = x->by_variety[k];
            if (cot_id_cmp(variety_at(p, i), &t->s->variety->id) != 0) break;
            if (names(t->s->planned, p->want[i].l.line) != (pass == 0) || (t->any && t->room <= 0)) continue;
            bool open = p->want[i].l.why == COT_SEASON_PLANNED && p->want[i].open > 0;
            uint32_t lots = open ? cot_season_lots(p, &p->want[i], t->seeding) : 0;
            const struct cot_seeding *of = of_lot(t->seeding, lots, t->s->lot);
            if (!serves(p, t->s, &p->want[i], of, &t->days, pass == 1)) continue;
            if (!t->any) begin(p, t, i, of);
            err = give(p, t, i, pass == 1 || t->s->rows > 0 || x->named[i] > 1);
        }
    }
    return err;
}

/* Trays as its lines need them now, unless a person said how many. */
static void resize(struct cot_planning *p, struct standing *t)
{
    struct cot_season_sowing *s = t->s;
    int64_t pot = 0, trays = cot_season_trays(p, &t->mine, &p->want[t->w], s->plants, &pot);
    s->pot_trays = pot;
    if (s->rows > 0 || trays < 1) return;
    bool pinned = cot_pinned(s->planned, COT_F_TRAYS);
    /* One tray fewer is not worth a change of what people have read on the wall. */
    if (!pinned && (trays > s->trays || trays < s->trays - 1)) {
        s->trays = trays;
        s->change = COT_SEASON_CHANGED;
    }
}

static enum cot_err settle(struct cot_planning *p, struct standing *t)
{
    struct cot_season_sowing *s = t->s;
    if (!t->any && !s->pinned) {
        s->change = COT_SEASON_DROPPED;
        return COT_OK;
    }
    if (t->any) resize(p, t);
    size_t lot = cot_season_lot_number(p, s->lot);
    if (t->any)
        s->seeds = s->rows > 0 ? cot_season_row_seeds(p, &t->mine, s->format, s->rows)
                               : cot_season_seeds(p, &t->mine, s->trays);
    if (lot < p->lots && s->seeds > 0) p->used[lot] += s->seeds;
    return COT_OK;
}

static int by_day(const void *x, const void *y)
{
    const struct cot_thing *a = *(const struct cot_thing *const *)x, *b = *(const struct cot_thing *const *)y;
    int64_t da = cot_thing_int(a, COT_F_SOW_DAY, COT_DAY_MAX), db = cot_thing_int(b, COT_F_SOW_DAY, COT_DAY_MAX);
    if (da != db) return da < db ? -1 : 1;
    return cot_id_cmp(&a->id, &b->id);
}

static bool released(const struct cot_planning *p, const struct cot_thing *t)
{
    for (uint32_t i = 0; i < p->released_count; i++)
        if (cot_id_cmp(&p->released[i], &t->id) == 0) return true;
    return false;
}

static enum cot_err one(struct cot_planning *p, const struct cot_thing *t, struct cot_seeding *seeding,
                        const struct index *x)
{
    struct cot_season_sowing s;
    struct cot_planned_done done;
    enum cot_err err = cot_planned_read(p->book, t, p->ask->on, &done);
    if (err != COT_OK || t->gone || done.state == COT_PLANNED_DONE || !describe(p, t, &s)) return err;
    s.sown = done.sown; /* the rest of it is still to come */
    if (done.rows) s.rows -= done.sown;
    else s.trays -= done.sown;
    if ((p->ask->from_scratch || released(p, t)) && !s.pinned) {
        struct cot_season_sowing *added;
        s.change = COT_SEASON_DROPPED;
        return cot_season_add(p, &s, &added);
    }
    struct standing st = {.seeding = seeding};
    cot_dayset_range(&st.days, 0, p->calendar.days - 1);
    err = cot_season_add(p, &s, &st.s);
    if (err == COT_OK) err = take_lines(p, &st, x);
    return err == COT_OK ? settle(p, &st) : err;
}

enum cot_err cot_season_standing(struct cot_planning *p)
{
    size_t n;
    const struct cot_thing *const *all = cot_book_things(p->book, COT_THING_PLANNED, &n);
    const struct cot_thing **t = malloc((n + 1) * sizeof *t);
    struct cot_seeding *seeding = calloc(COT_SEASON_LOTS + 1, sizeof *seeding);
    struct index x = {NULL, NULL, NULL};
    enum cot_err err = t && seeding ? make_index(p, &x) : COT_MEMORY;
    if (err == COT_OK && n > 0) memcpy(t, all, n * sizeof *t);
    if (err == COT_OK && n > 1) qsort(t, n, sizeof *t, by_day);
    for (size_t i = 0; err == COT_OK && i < n; i++) err = one(p, t[i], seeding, &x);
    free_index(&x);
    free(t);
    free(seeding);
    return err;
}

void cot_season_days_of(struct cot_planning *p, const struct cot_season_sowing *s, struct cot_dayset *out)
{
    struct cot_dayset until = {0};
    *out = (struct cot_dayset){0};
    int32_t last = s->lot ? (int32_t)cot_thing_int(s->lot, COT_F_USE_BY, COT_DAY_MAX) : COT_DAY_MAX;
    cot_dayset_range(out, 0, p->calendar.days - 1);
    for (uint32_t k = 0; k < s->parts; k++)
        cot_dayset_both(out, &p->want[p->out->part[s->first_part + k].line].window.days);
    if (last < p->calendar.first + p->calendar.days) {
        cot_dayset_range(&until, 0, last - p->calendar.first);
        cot_dayset_both(out, &until);
    }
    if (s->planned && (cot_pinned(s->planned, COT_F_SOW_DAY) || s->parts == 0)) {
        *out = (struct cot_dayset){0};
        int32_t i = s->was_day - p->calendar.first;
        cot_dayset_add(out, i < 0 ? 0 : i < p->calendar.days ? i : p->calendar.days - 1);
    }
}
