/* A named chamber, bench and frame for each sowing, for as long as it stands there. */
#include <stdlib.h>

#include "cotyledger/core/planned.h"
#include "season/in.h"

struct spots {
    struct cot_planning *p;
    const struct cot_thing *const *place;
    size_t places;
    int64_t *free; /* [place * days + day] */
    int64_t footprint;
};

static int64_t *free_of(const struct spots *s, size_t place)
{
    return s->free + place * (size_t)s->p->calendar.days;
}

/* Least that is free from `from` to the day before `to`, day numbers; days outside the plan count for nothing. */
static int64_t least_free(const struct spots *s, size_t place, int32_t from, int32_t to)
{
    int64_t least = INT64_MAX;
    for (int32_t d = from - s->p->calendar.first; d < to - s->p->calendar.first; d++)
        if (d >= 0 && d < s->p->calendar.days && free_of(s, place)[d] < least) least = free_of(s, place)[d];
    return least;
}

static void take(const struct spots *s, size_t place, int32_t from, int32_t to, int64_t spots)
{
    for (int32_t d = from - s->p->calendar.first; d < to - s->p->calendar.first; d++)
        if (d >= 0 && d < s->p->calendar.days) free_of(s, place)[d] -= spots;
}

/* The place of the sort, of the crop's group where it can be, with the least room that is enough, so that large rooms
 * stay for large sowings; NULL: none has it for all of the time. */
static const struct cot_thing *find(struct spots *s, enum cot_place_sort sort, const char *group, int32_t from,
                                    int32_t to, int64_t spots)
{
    size_t best = s->places;
    int64_t least = INT64_MAX;
    for (size_t i = 0; i < s->places; i++) {
        const struct cot_thing *t = s->place[i];
        if (t->gone || (enum cot_place_sort)cot_thing_int(t, COT_F_SORT, COT_PLACE_BENCH) != sort) continue;
        if (sort != COT_PLACE_FRAME && !cot_season_in_group(t, group)) continue;
        int64_t room = least_free(s, i, from, to);
        if (room < spots || room >= least) continue;
        least = room;
        best = i;
    }
    if (best == s->places || from >= to) return NULL;
    take(s, best, from, to, spots);
    return s->place[best];
}

static void place_one(struct spots *s, struct cot_season_sowing *w)
{
    const char *group = cot_season_group(w->crop);
    const struct cot_thing *said =
        w->planned ? cot_place_named(s->p->book, cot_thing_text(w->planned, COT_F_BENCH)) : NULL;
    int64_t first = cot_trays_spots(w->format, s->footprint, w->trays),
            then = w->pot_format ? cot_trays_spots(w->pot_format, s->footprint, w->pot_trays) : 0;
    int32_t gone = (w->until > w->stages.ready ? w->until : w->stages.ready) + 1,
            harden = w->stages.harden > w->stages.up ? w->stages.harden + (gone - 1 - w->stages.ready) : gone;
    int64_t most = first > then ? first : then;
    w->chamber = find(s, COT_PLACE_CHAMBER, group, w->stages.sown, w->stages.up, first);
    if (w->stages.harden < w->stages.ready) w->frame = find(s, COT_PLACE_FRAME, group, harden, gone, most);
    int32_t off = w->frame ? harden : gone;
    for (size_t i = 0; said && i < s->places; i++) {
        if (s->place[i] != said) continue;
        if (!cot_pinned(w->planned, COT_F_BENCH) && least_free(s, i, w->stages.up, off) < most) break;
        take(s, i, w->stages.up, off, most);
        w->bench = said;
        return;
    }
    w->bench = find(s, COT_PLACE_BENCH, group, w->stages.up, off, most);
}

/* What stands already is on the bench it was said to be on. */
static void take_standing(struct spots *s, uint32_t k)
{
    const struct cot_stand *t = &s->p->fill.stand[k];
    const struct cot_thing *format = cot_book_thing(s->p->book, &t->format), *batch = s->p->fill.batch[k];
    size_t n;
    int32_t until = t->ready != COT_DAY_NONE ? t->ready : s->p->calendar.first;
    if (!batch || !format || t->likely <= t->out) return;
    const char *bench = cot_thing_text(batch, COT_F_BENCH);
    const struct cot_note *note = cot_book_history(s->p->book, &batch->id, &n);
    for (size_t i = 0; i < n; i++)
        if (note[i].fact && note[i].fact->kind == COT_K_MOVED && note[i].verdict == COT_BOOKED &&
            cot_fact_value(note[i].fact, COT_F_BENCH))
            bench = cot_fact_value(note[i].fact, COT_F_BENCH)->v.text;
    for (uint32_t i = 0; i < s->p->fill.allot_count; i++)
        if (s->p->fill.allot[i].batch == k && s->p->fill.line[s->p->fill.allot[i].line].date > until)
            until = s->p->fill.line[s->p->fill.allot[i].line].date;
    const struct cot_thing *place = cot_place_named(s->p->book, bench);
    for (size_t i = 0; place && i < s->places; i++)
        if (s->place[i] == place)
            take(s, i, s->p->calendar.first, until + 1,
                 cot_trays_spots(format, s->footprint, t->trays > 0 ? t->trays : 1));
}

enum cot_err cot_season_place(struct cot_planning *p)
{
    struct spots s = {.p = p, .footprint = cot_usual_footprint(p->book)};
    s.place = cot_book_things(p->book, COT_THING_PLACE, &s.places);
    size_t days = (size_t)p->calendar.days;
    s.free = calloc(s.places * days + 1, sizeof *s.free);
    if (!s.free) return COT_MEMORY;
    for (size_t i = 0; i < s.places; i++)
        for (size_t d = 0; d < days; d++)
            s.free[i * days + d] = cot_place_open(&p->days, s.place[i], p->calendar.first + (int32_t)d)
                                       ? cot_thing_int(s.place[i], COT_F_SPOTS, 0)
                                       : 0;
    for (uint32_t k = 0; k < p->fill.batch_count; k++) take_standing(&s, k);
    /* Pinned benches first, then those that are kept, then the rest in order of their days. */
    for (int pass = 0; pass < 3; pass++)
        for (uint32_t i = 0; i < p->out->sowing_count; i++) {
            struct cot_season_sowing *w = &p->out->sowing[i];
            if (w->day == COT_DAY_NONE || w->change == COT_SEASON_DROPPED) continue;
            bool said = w->planned && cot_thing_text(w->planned, COT_F_BENCH)[0] != '\0';
            bool pinned = said && cot_pinned(w->planned, COT_F_BENCH);
            if ((pinned ? 0 : said ? 1 : 2) == pass) place_one(&s, w);
        }
    free(s.free);
    return COT_OK;
}
