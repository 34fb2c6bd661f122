/* Sowing days, so that chamber, benches, frames and hands are enough for all. */
#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/stays.h"
#include "season/in.h"

/* Number 0 are all places together; the others are the places of one temperature group, and those of none. Crops that
 * name no group have all places, the others those of their group too. What is beyond these groups is told apart no
 * more: its crops have all places. */
#define GROUPS 6
enum { CHAMBER = 0, BENCH = GROUPS, FRAME = 2 * GROUPS, HANDS, RESOURCES };
#define USES (2 * COT_STAYS_MOST) /* of one sowing or batch, at most */

static const struct cot_thing *named(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

const char *cot_season_group(const struct cot_thing *crop)
{
    return crop ? cot_thing_text(crop, COT_F_GROUP) : "";
}

struct laying {
    struct cot_planning *p;
    const char *group[GROUPS]; /* the places' groups, from 1 */
    uint32_t groups;           /* number 0 included */
    int64_t *room;             /* RESOURCES x days */
    bool there[RESOURCES];
    int64_t spots[RESOURCES]; /* of all places, open or not */
    int64_t footprint;
    struct cot_level_batch *batch;
    struct cot_use *use;
    int32_t *on;  /* days for from_on, to_on: four a batch */
    uint32_t *of; /* per level batch: sowing; UINT32_MAX: stands already */
    uint32_t batches, use_count;
};

/* --- Room --------------------------------------------------------------------------------------------------------- */

/* Numbers the places' groups. */
static void add_group(struct laying *l, const struct cot_thing *place)
{
    const char *name = cot_thing_text(place, COT_F_GROUP);
    uint32_t g = 1;
    if (cot_thing_int(place, COT_F_SORT, COT_PLACE_BENCH) == COT_PLACE_FRAME || name[0] == '\0') return;
    while (g < l->groups && !cot_same_group(l->group[g], name)) g++;
    if (g == l->groups && g < GROUPS) l->group[l->groups++] = name;
}

static void add_room(struct laying *l, uint32_t r, const struct cot_thing *place)
{
    const struct cot_planning *p = l->p;
    int64_t spots = cot_thing_int(place, COT_F_SPOTS, 0);
    l->there[r] = true;
    l->spots[r] += spots;
    for (int32_t d = 0; d < p->calendar.days; d++)
        if (cot_place_open(&p->days, place, p->calendar.first + d))
            l->room[(size_t)r * (size_t)p->calendar.days + (size_t)d] += spots;
}

static void read_rooms(struct laying *l)
{
    size_t n;
    struct cot_planning *p = l->p;
    const struct cot_thing *const *place = cot_book_things(p->book, COT_THING_PLACE, &n);
    l->group[0] = "";
    l->groups = 1;
    for (size_t i = 0; i < n; i++)
        if (!place[i]->gone) add_group(l, place[i]);
    for (size_t i = 0; i < n; i++) {
        enum cot_place_sort sort = (enum cot_place_sort)cot_thing_int(place[i], COT_F_SORT, COT_PLACE_BENCH);
        uint32_t base = sort == COT_PLACE_CHAMBER ? CHAMBER : BENCH;
        if (place[i]->gone) continue;
        if (sort == COT_PLACE_FRAME) add_room(l, FRAME, place[i]);
        for (uint32_t g = 0; sort != COT_PLACE_FRAME && g < l->groups; g++)
            if (cot_place_takes(place[i], l->group[g])) add_room(l, base + g, place[i]);
    }
    const struct cot_thing *house = cot_book_house(p->book);
    int64_t hands = cot_thing_int(house, COT_F_TRAYS_A_DAY, -1);
    l->there[HANDS] = hands >= 0;
    for (int32_t d = 0; d < p->calendar.days; d++)
        l->room[(size_t)HANDS * (size_t)p->calendar.days + (size_t)d] = hands;
}

/* --- What each takes ---------------------------------------------------------------------------------------------- */

static int32_t in_plan(const struct cot_planning *p, int32_t day)
{
    int32_t i = day - p->calendar.first;
    return i < -900 ? -900 : i > 900 ? 900 : i;
}

static void put_use(struct laying *l, struct cot_level_batch *b, struct cot_use u)
{
    if (u.amount <= 0 || !l->there[u.resource]) return;
    if (u.amount > COT_LEVEL_AMOUNT) u.amount = COT_LEVEL_AMOUNT;
    l->use[l->use_count++] = u;
    b->uses++;
}

/* Of all places of the sort, and of the group's where these are not all. */
static void put_place(struct laying *l, struct cot_level_batch *b, enum cot_place_sort sort, const char *group,
                      struct cot_use u)
{
    uint32_t base = sort == COT_PLACE_CHAMBER ? CHAMBER : BENCH;
    u.resource = sort == COT_PLACE_FRAME ? FRAME : base;
    put_use(l, b, u);
    for (uint32_t g = 1; sort != COT_PLACE_FRAME && group[0] && g < l->groups; g++) {
        u.resource = base + g;
        if (cot_same_group(l->group[g], group) && l->spots[base + g] < l->spots[base]) put_use(l, b, u);
    }
}

/* Frames that are not open yet, or full of nothing, harden nothing: the trays stay on the bench. */
static bool frames_open(const struct laying *l, int32_t from, int32_t to)
{
    const int64_t *room = l->room + (size_t)FRAME * (size_t)l->p->calendar.days;
    if (!l->there[FRAME]) return false;
    for (int32_t d = from < 0 ? 0 : from; d <= to && d < l->p->calendar.days; d++)
        if (room[d] == 0) return false;
    return true;
}

/* Out so many days before the first line is collected, or before it is ready. */
static int32_t harden_of(const struct cot_season_sowing *s, const struct cot_raise *raise, const struct cot_stages *g)
{
    return (s->from > g->ready ? s->from : g->ready) - raise->harden;
}

static int32_t until_of(const struct cot_season_sowing *s, const struct cot_stages *g)
{
    return s->until > g->ready ? s->until : g->ready;
}

/* Days by sowing day: up from the chamber, potted, out to harden, gone. */
static void days_of_all(struct laying *l, const struct cot_season_sowing *s, const struct cot_dayset *days, int32_t *on)
{
    struct cot_planning *p = l->p;
    struct cot_raised r = {p->book, s->crop, s->format, s->pot_format, s->plugs};
    int32_t n = p->calendar.days;
    for (int32_t d = 0; d < n; d++) {
        struct cot_raise raise;
        struct cot_stages g = {0};
        on[d] = on[n + d] = on[2 * n + d] = on[3 * n + d] = d;
        if (!cot_dayset_have(days, d)) continue;
        cot_raise_of(&r, p->calendar.first + d, &raise);
        (void)cot_raise_stages(&p->calendar, &raise, p->calendar.first + d, &g);
        int32_t gone = until_of(s, &g) + 1, harden = harden_of(s, &raise, &g);
        int32_t potted = g.potted == COT_DAY_NONE ? harden : g.potted;
        if (raise.harden == 0 || harden < g.up || !frames_open(l, in_plan(p, harden), in_plan(p, gone - 1)))
            harden = gone;
        if (potted > harden || s->pot_trays == 0) potted = harden;
        on[d] = in_plan(p, g.up);
        on[n + d] = in_plan(p, potted);
        on[2 * n + d] = in_plan(p, harden);
        on[3 * n + d] = in_plan(p, gone);
    }
}

static void put_sowing(struct laying *l, uint32_t number)
{
    struct cot_planning *p = l->p;
    struct cot_season_sowing *s = &p->out->sowing[number];
    struct cot_level_batch *b = &l->batch[l->batches];
    int32_t n = p->calendar.days, *on = l->on + (size_t)l->batches * 4 * (size_t)n;
    const char *group = cot_season_group(s->crop);
    *b = (struct cot_level_batch){.use = l->use + l->use_count, .standing = -1, .plate = -1};
    cot_season_days_of(p, s, &b->days);
    if (cot_dayset_empty(&b->days)) return;
    s->first = p->calendar.first + cot_dayset_next(&b->days, 0);
    s->last = p->calendar.first + cot_dayset_last(&b->days);
    days_of_all(l, s, &b->days, on);
    int64_t spots = cot_trays_spots(s->format, l->footprint, s->trays), first = spots;
    int64_t pots = s->pot_format ? cot_trays_spots(s->pot_format, l->footprint, s->pot_trays) : spots;
    put_place(l, b, COT_PLACE_CHAMBER, group, (struct cot_use){0, 0, 0, 0, first, NULL, on});
    put_place(l, b, COT_PLACE_BENCH, group, (struct cot_use){0, 0, 0, 0, first, on, on + n});
    put_place(l, b, COT_PLACE_BENCH, group, (struct cot_use){0, 0, 0, 0, pots, on + n, on + 2 * n});
    put_place(l, b, COT_PLACE_FRAME, group, (struct cot_use){0, 0, 0, 0, pots, on + 2 * n, on + 3 * n});
    put_use(l, b, (struct cot_use){HANDS, 0, 1, 0, s->trays, NULL, NULL});
    if (s->was_day != COT_DAY_NONE && s->was_day >= p->calendar.first && s->was_day < p->calendar.first + n)
        b->standing = s->was_day - p->calendar.first;
    for (size_t i = 0; s->plate; i++) {
        size_t plates;
        const struct cot_thing *const *plate = cot_book_things(p->book, COT_THING_PLATE, &plates);
        if (i == plates || i == COT_LEVEL_PLATES) break;
        if (cot_id_cmp(&plate[i]->id, &s->plate->id) == 0) b->plate = (int32_t)i;
    }
    b->queue = s->pinned ? 0 : 1 + (s->parts ? p->out->part[s->first_part].line : 0);
    l->of[l->batches++] = number;
}

/* What was sown stands where its moves say, or where its crop's days say. */
static void put_standing(struct laying *l, uint32_t k)
{
    struct cot_planning *p = l->p;
    struct cot_stay stay[COT_STAYS_MOST];
    int n = cot_stays_of_batch(p->book, &p->fill, k, stay);
    struct cot_level_batch *b = &l->batch[l->batches];
    *b = (struct cot_level_batch){.use = l->use + l->use_count, .standing = -1, .plate = -1};
    if (n == 0) return;
    cot_dayset_add(&b->days, 0);
    for (int i = 0; i < n; i++) {
        const struct cot_stay *t = &stay[i];
        const char *group =
            t->place ? cot_thing_text(t->place, COT_F_GROUP) : cot_season_group(named(p->book, t->variety, COT_F_CROP));
        put_place(l, b, t->sort, group,
                  (struct cot_use){0, in_plan(p, t->from), in_plan(p, t->to) + 1, COT_USE_FROM_DAY | COT_USE_TO_DAY,
                                   t->spots, NULL, NULL});
    }
    l->of[l->batches++] = UINT32_MAX;
}

/* --- The plan ----------------------------------------------------------------------------------------------------- */

static void put_day(struct cot_planning *p, struct cot_season_sowing *s, int32_t day)
{
    struct cot_raised r = {p->book, s->crop, s->format, s->pot_format, s->plugs};
    struct cot_raise raise;
    s->day = day < 0 ? COT_DAY_NONE : p->calendar.first + day;
    if (day < 0) return;
    cot_raise_of(&r, s->day, &raise);
    (void)cot_raise_stages(&p->calendar, &raise, s->day, &s->stages);
    s->harden = raise.harden > 0 ? harden_of(s, &raise, &s->stages) : COT_DAY_NONE;
    if (s->harden < s->stages.up) s->harden = COT_DAY_NONE; /* too short a time for both */
}

static enum cot_err put_lacks(struct laying *l, const struct cot_level *got)
{
    struct cot_season *o = l->p->out;
    o->lack = calloc(got->lacks + 1, sizeof *o->lack);
    if (!o->lack) return COT_MEMORY;
    for (uint32_t i = 0; i < got->lacks; i++) {
        const struct cot_lack *k = &got->lack[i];
        uint32_t r = k->resource;
        struct cot_season_lack *to = &o->lack[o->lack_count++];
        *to = (struct cot_season_lack){.sort = r < BENCH   ? COT_PLACE_CHAMBER
                                               : r < FRAME ? COT_PLACE_BENCH
                                                           : COT_PLACE_FRAME,
                                       .sowing = r == HANDS,
                                       .group = r < FRAME ? l->group[r % GROUPS] : "",
                                       .from = l->p->calendar.first + k->from,
                                       .to = l->p->calendar.first + k->to,
                                       .spots = k->spots};
    }
    return COT_OK;
}

static enum cot_err level(struct laying *l)
{
    struct cot_planning *p = l->p;
    struct cot_resource resource[RESOURCES];
    struct cot_level *got = calloc(1, sizeof *got);
    struct cot_level_ask ask = {.days = p->calendar.days,
                                .resource = resource,
                                .resources = RESOURCES,
                                .batch = l->batch,
                                .batches = l->batches,
                                .keep_close = !p->ask->from_scratch};
    for (uint32_t r = 0; r < RESOURCES; r++)
        resource[r] = (struct cot_resource){l->there[r] ? l->room + (size_t)r * (size_t)p->calendar.days : NULL,
                                            l->there[r] && r >= BENCH && r < FRAME};
    void *space = malloc(cot_level_bytes(&ask) + 1);
    int32_t *day = calloc(l->batches + 1, sizeof *day);
    int64_t *use = calloc((size_t)p->calendar.days, sizeof *use);
    enum cot_err err = got && space && day && use ? COT_OK : COT_MEMORY;
    if (err == COT_OK) {
        got->day = day;
        err = cot_level_plan(&ask, space, got, p->fault);
    }
    if (err == COT_OK) {
        for (uint32_t i = 0; i < l->batches; i++)
            if (l->of[i] != UINT32_MAX) put_day(p, &p->out->sowing[l->of[i]], day[i]);
        p->out->peak = got->peak;
        p->out->bound = got->bound;
        p->out->gap = got->gap;
        p->out->peak_day = got->peak_day >= 0 ? p->calendar.first + got->peak_day : COT_DAY_NONE;
        p->out->plate_changes = got->plate_changes;
        p->out->moved = (uint32_t)got->moved;
        cot_level_use(&ask, day, BENCH, use);
        for (int32_t d = 0; d < p->calendar.days; d++)
            if (use[d] > p->out->bench_peak) p->out->bench_peak = use[d];
        err = put_lacks(l, got);
    }
    free(got);
    free(space);
    free(day);
    free(use);
    return err;
}

enum cot_err cot_season_lay(struct cot_planning *p)
{
    struct laying l = {.p = p, .footprint = cot_usual_footprint(p->book)};
    size_t most = (size_t)p->out->sowing_count + p->fill.batch_count + 1, days = (size_t)p->calendar.days;
    l.room = calloc(RESOURCES * days, sizeof *l.room);
    l.batch = calloc(most, sizeof *l.batch);
    l.use = calloc(most * USES, sizeof *l.use);
    l.on = calloc(((size_t)p->out->sowing_count + 1) * 4 * days, sizeof *l.on);
    l.of = calloc(most, sizeof *l.of);
    enum cot_err err = l.room && l.batch && l.use && l.on && l.of ? COT_OK : COT_MEMORY;
    if (err == COT_OK) {
        read_rooms(&l);
        for (uint32_t i = 0; i < p->out->sowing_count; i++)
            if (p->out->sowing[i].change != COT_SEASON_DROPPED) put_sowing(&l, i);
        for (uint32_t k = 0; k < p->fill.batch_count; k++) put_standing(&l, k);
        if (l.batches > 0) err = level(&l);
    }
    free(l.room);
    free(l.batch);
    free(l.use);
    free(l.on);
    free(l.of);
    return err;
}
