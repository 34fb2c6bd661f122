/* New sowings for lines that nothing planned serves. */
#include <stdlib.h>
#include <string.h>

#include "season/in.h"

#define ROOM_MORE 4096 /* sowings and parts more, where large ones are cut */

enum cot_err cot_season_add(struct cot_planning *p, const struct cot_season_sowing *s, struct cot_season_sowing **out)
{
    struct cot_season *o = p->out;
    if (o->sowing_count == p->sowing_room) {
        size_t more = p->sowing_room ? 2 * p->sowing_room : 64;
        struct cot_season_sowing *grown = realloc(o->sowing, more * sizeof *grown);
        if (!grown) return COT_MEMORY;
        o->sowing = grown;
        p->sowing_room = more;
    }
    *out = &o->sowing[o->sowing_count++];
    **out = *s;
    (*out)->first_part = o->part_count;
    (*out)->parts = 0;
    return COT_OK;
}

/* Parts of a sowing stand together: only the last one that was added is given to. */
enum cot_err cot_season_give(struct cot_planning *p, struct cot_season_sowing *s, uint32_t want, int64_t plants)
{
    struct cot_season *o = p->out;
    if (o->part_count == p->part_room) {
        size_t more = p->part_room ? 2 * p->part_room : 256;
        struct cot_season_part *grown = realloc(o->part, more * sizeof *grown);
        if (!grown) return COT_MEMORY;
        o->part = grown;
        p->part_room = more;
    }
    o->part[o->part_count++] = (struct cot_season_part){want, plants};
    s->parts++;
    s->plants += plants;
    if (s->until == 0 || p->want[want].l.date > s->until) s->until = p->want[want].l.date;
    if (s->from == 0 || p->want[want].l.date < s->from) s->from = p->want[want].l.date;
    p->want[want].open -= plants;
    return COT_OK;
}

/* --- Grouping ----------------------------------------------------------------------------------------------------- */

struct asking {
    struct cot_planning *p;
    struct cot_seeding *seeding;
    uint32_t lots;               /* without the one to buy */
    const struct cot_wanting *w; /* one of the lines: they are alike */
};

static struct cot_seeding *seeding_of(struct asking *a, uint32_t lot)
{
    return &a->seeding[lot == COT_LOT_BUY ? a->lots : lot];
}

static int64_t trays_of(void *ctx, uint32_t lot, int64_t plants)
{
    struct asking *a = ctx;
    return cot_season_trays(a->p, seeding_of(a, lot), a->w, plants, NULL);
}

static int64_t seeds_of(void *ctx, uint32_t lot, int64_t trays)
{
    struct asking *a = ctx;
    return cot_season_seeds(a->p, seeding_of(a, lot), trays);
}

static int64_t rows_of(void *ctx, uint32_t lot, int64_t plants)
{
    struct asking *a = ctx;
    return cot_season_rows(a->p, seeding_of(a, lot), a->w, plants);
}

static enum cot_err put_batch(struct asking *a, const struct cot_group *g, const struct cot_group_batch *b,
                              const uint32_t *of)
{
    struct cot_seeding *s = seeding_of(a, b->lot);
    struct cot_season_sowing new = {.change = COT_SEASON_NEW,
                                    .variety = a->w->l.variety,
                                    .crop = a->w->l.crop,
                                    .format = a->w->sow_format,
                                    .lot = s->lot,
                                    .plate = s->plate,
                                    .plugs = a->w->plugs,
                                    .pot_format = a->w->sow_format != a->w->l.format ? a->w->l.format : NULL,
                                    .trays = b->trays,
                                    .rows = b->rows,
                                    .seeds = b->seeds,
                                    .per_cell = s->per_cell,
                                    .at_least = s->at_least,
                                    .day = COT_DAY_NONE,
                                    .was_day = COT_DAY_NONE,
                                    .retest = s->retest},
                             *added;
    (void)cot_season_trays(a->p, s, a->w, b->plants, &new.pot_trays);
    if (b->rows > 0) new.seeds = cot_season_row_seeds(a->p, s, a->w->sow_format, b->rows);
    if (s->lot) a->p->used[cot_season_lot_number(a->p, s->lot)] += new.seeds;
    enum cot_err err = cot_season_add(a->p, &new, &added);
    for (uint32_t k = 0; err == COT_OK && k < b->parts; k++) {
        const struct cot_group_part *part = &g->part[b->first_part + k];
        err = cot_season_give(a->p, added, of[part->line], part->plants);
    }
    return err;
}

/* Spots of the chambers of one group that take the crop. */
static int64_t chamber_spots(const struct cot_thing *const *place, size_t n, const char *group)
{
    int64_t spots = 0;
    for (size_t i = 0; i < n; i++)
        if (!place[i]->gone && cot_thing_int(place[i], COT_F_SORT, COT_PLACE_BENCH) == COT_PLACE_CHAMBER &&
            cot_place_takes(place[i], group))
            spots += cot_thing_int(place[i], COT_F_SPOTS, 0);
    return spots;
}

/* Trays that the crop's chambers hold at once, and that can be sown on a day: larger sowings are cut. 0: no limit. */
static int64_t most_trays(struct cot_planning *p, const struct cot_wanting *w)
{
    size_t n;
    const char *group = cot_season_group(w->l.crop);
    const struct cot_thing *const *place = cot_book_things(p->book, COT_THING_PLACE, &n);
    int64_t most = cot_thing_int(cot_book_house(p->book), COT_F_TRAYS_A_DAY, 0), spots = 0;
    if (group[0]) spots = chamber_spots(place, n, group);
    for (size_t i = 0; i < n && !group[0]; i++) { /* a crop of no group goes where most room is */
        if (cot_thing_int(place[i], COT_F_SORT, COT_PLACE_BENCH) != COT_PLACE_CHAMBER) continue;
        int64_t here = chamber_spots(place, n, cot_thing_text(place[i], COT_F_GROUP));
        spots = here > spots ? here : spots;
    }
    int64_t each = cot_tray_spots(w->sow_format, cot_usual_footprint(p->book)), fit = spots * 1000 / each;
    return fit > 0 && (most == 0 || fit < most) ? fit : most;
}

/* Lines of[0 .. n-1] of the planning, alike, in queue order. */
static enum cot_err group_lines(struct cot_planning *p, const uint32_t *of, uint32_t n, struct cot_seeding *seeding)
{
    uint32_t lots = cot_season_lots(p, &p->want[of[0]], seeding);
    bool buy = lots > 0 && !seeding[lots - 1].lot;
    struct asking a = {p, seeding, lots - buy, &p->want[of[0]]};
    struct cot_group_line *line = calloc(n, sizeof *line);
    struct cot_group_lot lot[COT_SEASON_LOTS];
    uint32_t room = n * (lots + 1) + n + ROOM_MORE;
    struct cot_group g = {.batch_room = room, .part_room = room};
    g.batch = calloc(room, sizeof *g.batch);
    g.part = calloc(room, sizeof *g.part);
    void *space = malloc(cot_group_bytes(n));
    enum cot_err err = line && g.batch && g.part && space ? COT_OK : COT_MEMORY;
    for (uint32_t i = 0; err == COT_OK && i < n; i++)
        line[i] = (struct cot_group_line){p->want[of[i]].window.days, p->want[of[i]].open};
    for (uint32_t i = 0; i < a.lots; i++)
        lot[i] = (struct cot_group_lot){
            seeding[i].stock, seeding[i].last == COT_DAY_MAX ? INT32_MAX : seeding[i].last - p->calendar.first};
    const struct cot_group_ask ask = {line, n, lot, a.lots, trays_of, seeds_of, rows_of, &a, most_trays(p, a.w)};
    if (err == COT_OK && lots == 0) err = COT_INVALID;
    if (err == COT_OK) err = cot_group_lines(&ask, space, &g, NULL);
    for (uint32_t i = 0; err == COT_OK && i < g.batches; i++) err = put_batch(&a, &g, &g.batch[i], of);
    if (err == COT_INVALID) { /* figures that give no plants: said of the lines, the plan goes on */
        for (uint32_t i = 0; i < n; i++) p->want[of[i]].l.why = COT_SEASON_NO_TRAYS;
        err = COT_OK;
    }
    free(line);
    free(g.batch);
    free(g.part);
    free(space);
    return err;
}

static bool open_one(const struct cot_wanting *w)
{
    return w->l.why == COT_SEASON_PLANNED && w->open > 0;
}

enum cot_err cot_season_make(struct cot_planning *p)
{
    uint32_t *of = malloc((p->wants + 1) * sizeof *of);
    bool *seen = calloc(p->wants + 1, sizeof *seen);
    struct cot_seeding *seeding = calloc(COT_SEASON_LOTS + 1, sizeof *seeding);
    enum cot_err err = of && seen && seeding ? COT_OK : COT_MEMORY;
    for (uint32_t i = 0; err == COT_OK && i < p->wants; i++) {
        uint32_t n = 0;
        if (seen[i] || !open_one(&p->want[i])) continue;
        for (uint32_t k = i; k < p->wants; k++) {
            if (seen[k] || !open_one(&p->want[k]) || !cot_season_alike(&p->want[i], &p->want[k])) continue;
            if (p->ask->each_alone && n > 0) break;
            seen[k] = true;
            of[n++] = k;
        }
        err = group_lines(p, of, n, seeding);
    }
    free(of);
    free(seen);
    free(seeding);
    return err;
}
