/* The plan of a season, step by step. */
#include "cotyledger/core/season.h"

#include <stdlib.h>
#include <string.h>

#include "season/in.h"

#define AHEAD 400 /* days from today that are planned for, at most */

const char *cot_season_why_text(enum cot_season_why why)
{
    static const char *const text[] = {
        [COT_SEASON_PLANNED] = "",
        [COT_SEASON_NO_DAYS] = "the crop's days in the tray are not known",
        [COT_SEASON_NO_FORMAT] = "no tray format is named, and none is usual",
        [COT_SEASON_NO_TRAYS] = "no number of trays gives so many plants",
        [COT_SEASON_GONE] = "it had to be sown before today",
        [COT_SEASON_BEYOND] = "it is too far ahead",
        [COT_SEASON_CLOSED] = "nobody works on the days when somebody must",
        [COT_SEASON_NEVER] = "too early is past use, a day later is too late",
        [COT_SEASON_NO_ROOM] = "there is no room for it",
    };
    return (unsigned)why < sizeof text / sizeof text[0] ? text[why] : "?";
}

void cot_season_free(struct cot_season *s)
{
    free(s->line);
    free(s->sowing);
    free(s->part);
    free(s->lack);
    *s = (struct cot_season){0};
}

static enum cot_err read_calendar(struct cot_planning *p)
{
    int32_t last = p->ask->on;
    enum cot_err err = cot_days_read(p->book, &p->days);
    if (err != COT_OK) return err;
    for (uint32_t i = 0; i < p->fill.line_count; i++) {
        int32_t date = p->fill.line[i].date + 61;
        if (date > last && date <= p->ask->on + AHEAD) last = date;
    }
    size_t n;
    const struct cot_thing *const *planned = cot_book_things(p->book, COT_THING_PLANNED, &n);
    for (size_t i = 0; i < n; i++) {
        int32_t day = (int32_t)cot_thing_int(planned[i], COT_F_SOW_DAY, last);
        if (!planned[i]->gone && day > last && day <= p->ask->on + AHEAD) last = day;
    }
    return cot_calendar_of(&p->days, p->ask->on, last - p->ask->on + 1, &p->calendar, &p->closed);
}

/* Lines whose sowing gave way are said to have no room; the others have what was planned for them. */
static void tell_lines(struct cot_planning *p)
{
    struct cot_season *o = p->out;
    for (uint32_t i = 0; i < p->wants; i++) p->want[i].l.planned = 0;
    for (uint32_t i = 0; i < o->sowing_count; i++) {
        const struct cot_season_sowing *s = &o->sowing[i];
        for (uint32_t k = 0; k < s->parts; k++) {
            struct cot_season_line *l = &p->want[o->part[s->first_part + k].line].l;
            if (s->day != COT_DAY_NONE) l->planned += o->part[s->first_part + k].plants;
            else l->why = COT_SEASON_NO_ROOM;
        }
    }
    for (uint32_t i = 0; i < p->wants; i++) {
        o->line[i] = p->want[i].l;
        o->covered += o->line[i].planned >= o->line[i].need;
    }
    o->line_count = p->wants;
}

/* --- Shared trays ------------------------------------------------------------------------------------------------- */

/* Of "2027-03-01 shared 2" the 2; 0 of any other name. */
static uint32_t shared_number(const char *name)
{
    size_t len = sizeof COT_SEASON_SHARED - 1;
    uint32_t n = 0;
    while (*name && strncmp(name, COT_SEASON_SHARED, len) != 0) name++;
    for (name += *name ? len : 0; *name >= '0' && *name <= '9' && n < 100000; name++)
        n = 10 * n + (uint32_t)(*name - '0');
    return *name == '\0' ? n : 0;
}

/* The highest number that a shared tray was given so far. */
static uint32_t highest(struct cot_book *b, enum cot_thing_type type, uint32_t most)
{
    size_t n;
    const struct cot_thing *const *t = cot_book_things(b, type, &n);
    for (size_t i = 0; i < n; i++) {
        uint32_t k = shared_number(cot_thing_text(t[i], COT_F_SHARED));
        if (k > most) most = k;
    }
    return most;
}

/* Rows sown on one day in one format are put together. A sowing that stays alone in its tray is a tray. */
static enum cot_err share_trays(struct cot_planning *p)
{
    struct cot_season *o = p->out;
    uint32_t number = highest(p->book, COT_THING_BATCH, highest(p->book, COT_THING_PLANNED, 0));
    for (uint32_t i = 0; i < o->sowing_count; i++) {
        struct cot_season_sowing *s = &o->sowing[i];
        int64_t rows[COT_SHARE_MOST];
        uint32_t of[COT_SHARE_MOST], tray[COT_SHARE_MOST], n = 0, trays, bound;
        if (s->rows == 0 || s->shared > 0 || s->day == COT_DAY_NONE || s->planned) continue;
        for (uint32_t k = i; k < o->sowing_count && n < COT_SHARE_MOST; k++) {
            const struct cot_season_sowing *t = &o->sowing[k];
            if (t->rows == 0 || t->shared > 0 || t->day != s->day || t->format != s->format || t->planned) continue;
            of[n] = k;
            rows[n++] = t->rows;
        }
        enum cot_err err =
            cot_share_rows(rows, n, cot_thing_int(s->format, COT_F_ROWS, 1), tray, &trays, &bound, p->fault);
        if (err != COT_OK) return err;
        for (uint32_t k = 0; k < n; k++) {
            uint32_t with = 0;
            for (uint32_t m = 0; m < n; m++) with += tray[m] == tray[k];
            struct cot_season_sowing *t = &o->sowing[of[k]];
            int64_t all = cot_thing_int(t->format, COT_F_ROWS, 1);
            if (with > 1) {
                t->shared = number + tray[k] + 1;
                continue;
            }
            t->seeds = (t->seeds * all + t->rows - 1) / t->rows;
            t->rows = 0;
        }
        number += trays;
    }
    return COT_OK;
}

/* --- Order and sums ----------------------------------------------------------------------------------------------- */

static int by_day(const void *x, const void *y)
{
    const struct cot_season_sowing *a = x, *b = y;
    int32_t da = a->day == COT_DAY_NONE ? INT32_MAX - (a->change == COT_SEASON_DROPPED ? 0 : 1) : a->day;
    int32_t db = b->day == COT_DAY_NONE ? INT32_MAX - (b->change == COT_SEASON_DROPPED ? 0 : 1) : b->day;
    if (da != db) return da < db ? -1 : 1;
    int c = strcmp(cot_thing_name(a->variety), cot_thing_name(b->variety));
    if (c != 0) return c;
    c = strcmp(cot_thing_name(a->format), cot_thing_name(b->format));
    if (c != 0) return c;
    c = strcmp(a->lot ? cot_thing_name(a->lot) : "", b->lot ? cot_thing_name(b->lot) : "");
    if (c != 0) return c;
    return a->first_part < b->first_part ? -1 : a->first_part > b->first_part;
}

/* A new sowing like one that would be dropped is that one, changed: people read fewer changes, and the tag's code
 * stays.
 */
static void match(struct cot_season *o)
{
    for (uint32_t i = 0; i < o->sowing_count; i++) {
        struct cot_season_sowing *s = &o->sowing[i], *best = NULL;
        if (s->change != COT_SEASON_NEW || s->day == COT_DAY_NONE || !s->lot || s->rows > 0) continue;
        for (uint32_t k = 0; k < o->sowing_count; k++) {
            struct cot_season_sowing *d = &o->sowing[k];
            if (d->change != COT_SEASON_DROPPED || !d->planned || d->lot != s->lot || d->format != s->format) continue;
            if (d->rows == 0 && (!best || abs(d->was_day - s->day) < abs(best->was_day - s->day))) best = d;
        }
        if (!best) continue;
        s->planned = best->planned;
        s->was_day = best->was_day;
        s->change = s->trays == best->trays ? COT_SEASON_KEPT : COT_SEASON_CHANGED;
        best->planned = NULL;
    }
    uint32_t n = 0;
    for (uint32_t i = 0; i < o->sowing_count; i++)
        if (o->sowing[i].change != COT_SEASON_DROPPED || o->sowing[i].planned) o->sowing[n++] = o->sowing[i];
    o->sowing_count = n;
}

static bool same_tray(const struct cot_season_sowing *a, const struct cot_season_sowing *b)
{
    if (a->rows == 0 || b->rows == 0 || a->day != b->day || a->format != b->format) return false;
    if (!a->planned || !b->planned) return a->shared > 0 && a->shared == b->shared;
    return strcmp(cot_thing_text(a->planned, COT_F_SHARED), cot_thing_text(b->planned, COT_F_SHARED)) == 0;
}

static bool other(const struct cot_season_sowing *s, enum cot_field field, const struct cot_thing *place)
{
    return strcmp(cot_thing_text(s->planned, field), place ? cot_thing_name(place) : "") != 0;
}

bool cot_season_other_place(const struct cot_season_sowing *s)
{
    if (!s->planned || s->day == COT_DAY_NONE) return false;
    return other(s, COT_F_BENCH, s->bench) ||
           (cot_thing_text(s->planned, COT_F_CHAMBER)[0] && other(s, COT_F_CHAMBER, s->chamber)) ||
           (cot_thing_text(s->planned, COT_F_FRAME)[0] && other(s, COT_F_FRAME, s->frame));
}

static void add_up(struct cot_season *o)
{
    o->moved = 0;
    for (uint32_t i = 0; i < o->sowing_count; i++) {
        struct cot_season_sowing *s = &o->sowing[i];
        bool moved = s->planned && s->day != COT_DAY_NONE && s->day != s->was_day;
        bool differs = moved || cot_season_other_place(s);
        if (differs && s->change == COT_SEASON_KEPT) s->change = COT_SEASON_CHANGED;
        o->moved += moved;
        o->kept += s->change == COT_SEASON_KEPT;
        o->changed += s->change == COT_SEASON_CHANGED;
        o->fresh += s->change == COT_SEASON_NEW && s->day != COT_DAY_NONE;
        o->dropped += s->change == COT_SEASON_DROPPED;
        if (s->day == COT_DAY_NONE) continue;
        bool counted = false; /* a shared tray is one, whoever is in it */
        for (uint32_t k = 0; k < i && !counted; k++) counted = same_tray(s, &o->sowing[k]);
        o->trays += counted ? 0 : s->trays;
        o->seeds += s->seeds > 0 ? s->seeds : 0;
    }
}

static enum cot_err make_plan(struct cot_planning *p)
{
    struct cot_season *o = p->out;
    enum cot_err err = cot_fill_read(p->book, p->ask->on, &p->fill);
    if (err == COT_OK) err = read_calendar(p);
    if (err != COT_OK) return err;
    p->confidence = p->fill.confidence;
    p->lot = cot_book_things(p->book, COT_THING_LOT, &p->lots);
    p->used = calloc(p->lots + 1, sizeof *p->used);
    if (!p->used) return COT_MEMORY;
    o->on = p->ask->on;
    o->days = p->calendar.days;
    err = cot_season_wants(p);
    o->line = calloc(p->wants + 1, sizeof *o->line);
    if (err == COT_OK && !o->line) err = COT_MEMORY;
    if (err == COT_OK) err = cot_season_standing(p);
    if (err == COT_OK) err = cot_season_make(p);
    if (err == COT_OK) err = cot_season_lay(p);
    if (err == COT_OK && o->sowing_count > 1) qsort(o->sowing, o->sowing_count, sizeof *o->sowing, by_day);
    if (err == COT_OK) err = share_trays(p);
    if (err == COT_OK) err = cot_season_place(p);
    if (err != COT_OK) return err;
    tell_lines(p);
    match(o);
    add_up(o);
    return COT_OK;
}

static enum cot_err plan_once(struct cot_book *b, const struct cot_season_ask *ask, const struct cot_id *released,
                              uint32_t n, struct cot_season *out, struct cot_fault *fault)
{
    struct cot_planning p = {
        .book = b, .ask = ask, .out = out, .fault = fault, .released = released, .released_count = n};
    *out = (struct cot_season){.peak_day = COT_DAY_NONE};
    enum cot_err err = make_plan(&p);
    cot_fill_free(&p.fill);
    cot_days_free(&p.days);
    free(p.closed);
    free(p.want);
    free(p.used);
    if (err != COT_OK) cot_season_free(out);
    return err;
}

/* Lists the planned sowings that have no room where they are, after those listed already. */
static uint32_t list_cramped(const struct cot_season *s, struct cot_id *list, uint32_t n)
{
    for (uint32_t i = 0; i < s->sowing_count; i++)
        if (s->sowing[i].planned && s->sowing[i].day == COT_DAY_NONE && s->sowing[i].change != COT_SEASON_DROPPED)
            list[n++] = s->sowing[i].planned->id;
    return n;
}

/* Takes the better of the two: lines in full, then the one that stands. */
static void take_better(struct cot_season *best, struct cot_season *other)
{
    if (other->covered > best->covered) {
        struct cot_season t = *best;
        *best = *other;
        *other = t;
    }
    cot_season_free(other);
}

/* A plan that keeps what stands must not serve fewer lines than one made afresh. Sowings that find no room are made
 * anew with their lines; if that does not do, everything is. */
static enum cot_err improve(struct cot_book *b, const struct cot_season_ask *ask, struct cot_season *out,
                            struct cot_fault *fault)
{
    struct cot_season other;
    struct cot_season_ask afresh = *ask;
    struct cot_id *list = malloc((2 * (size_t)out->sowing_count + 1) * sizeof *list);
    uint32_t n = list ? list_cramped(out, list, 0) : 0;
    enum cot_err err = list ? COT_OK : COT_MEMORY;
    if (err == COT_OK && n > 0) {
        err = plan_once(b, ask, list, n, &other, fault);
        if (err == COT_OK) take_better(out, &other);
    }
    free(list);
    afresh.from_scratch = true;
    if (err == COT_OK && out->covered < out->line_count) {
        err = plan_once(b, &afresh, NULL, 0, &other, fault);
        if (err == COT_OK) take_better(out, &other);
    }
    return err;
}

enum cot_err cot_season_plan(struct cot_book *b, const struct cot_season_ask *ask, struct cot_season *out,
                             struct cot_fault *fault)
{
    *out = (struct cot_season){.peak_day = COT_DAY_NONE};
    if (!cot_book_house(b)) return cot_fail(fault, COT_INVALID, "the book has no house yet: fetch first");
    enum cot_err err = plan_once(b, ask, NULL, 0, out, fault);
    bool stands = err == COT_OK && out->kept + out->changed + out->dropped > 0;
    if (stands && !ask->from_scratch && out->covered < out->line_count) err = improve(b, ask, out, fault);
    if (err != COT_OK) cot_season_free(out);
    return err == COT_MEMORY ? cot_fail(fault, err, "out of memory") : err;
}
