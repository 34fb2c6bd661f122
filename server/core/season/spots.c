/* A named chamber, bench and frame for each sowing, for as long as it stands there. */
#include <stdlib.h>

#include "cotyledger/core/planned.h"
#include "cotyledger/core/stays.h"
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
        if (sort != COT_PLACE_FRAME && !cot_place_takes(t, group)) continue;
        int64_t room = least_free(s, i, from, to);
        if (room < spots || room >= least) continue;
        least = room;
        best = i;
    }
    if (best == s->places || from >= to) return NULL;
    take(s, best, from, to, spots);
    return s->place[best];
}

/* The place that a planned sowing names, when it has the room or a person fixed it; else one that has. */
static const struct cot_thing *keep_or_find(struct spots *s, const struct cot_season_sowing *w, enum cot_field field,
                                            enum cot_place_sort sort, int32_t from, int32_t to, int64_t spots)
{
    const struct cot_thing *said = w->planned ? cot_place_named(s->p->book, cot_thing_text(w->planned, field)) : NULL;
    for (size_t i = 0; said && from < to && i < s->places; i++) {
        if (s->place[i] != said) continue;
        if (!cot_pinned(w->planned, field) && (said->gone || least_free(s, i, from, to) < spots)) break;
        take(s, i, from, to, spots);
        return said;
    }
    return find(s, sort, cot_season_group(w->crop), from, to, spots);
}

static void place_one(struct spots *s, struct cot_season_sowing *w)
{
    int64_t first = cot_trays_spots(w->format, s->footprint, w->trays),
            then = w->pot_format ? cot_trays_spots(w->pot_format, s->footprint, w->pot_trays) : 0;
    int32_t gone = (w->until > w->stages.ready ? w->until : w->stages.ready) + 1;
    int64_t most = first > then ? first : then;
    w->chamber = keep_or_find(s, w, COT_F_CHAMBER, COT_PLACE_CHAMBER, w->stages.sown, w->stages.up, first);
    if (w->harden != COT_DAY_NONE)
        w->frame = keep_or_find(s, w, COT_F_FRAME, COT_PLACE_FRAME, w->harden, gone, then ? then : most);
    w->bench = keep_or_find(s, w, COT_F_BENCH, COT_PLACE_BENCH, w->stages.up, w->frame ? w->harden : gone, most);
}

/* What stands already is where its moves say. */
static void take_standing(struct spots *s, uint32_t k)
{
    struct cot_stay stay[COT_STAYS_MOST];
    int n = cot_stays_of_batch(s->p->book, &s->p->fill, k, stay);
    for (int i = 0; i < n; i++)
        for (size_t place = 0; stay[i].place && place < s->places; place++)
            if (s->place[place] == stay[i].place) take(s, place, stay[i].from, stay[i].to + 1, stay[i].spots);
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
