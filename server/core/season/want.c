/* Lines that nothing sown serves: how much they need, in which tray, on which days they may be sown. */
#include <stdlib.h>
#include <string.h>

#include "fill/lines.h"
#include "season/in.h"

static bool same_thing(const struct cot_thing *a, const struct cot_thing *b)
{
    return a == b || (a && b && cot_id_cmp(&a->id, &b->id) == 0);
}

static const struct cot_thing *named(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

/* --- The tray ----------------------------------------------------------------------------------------------------- */

/* A line that takes any format gets the one that most lines of its crop name; ties by name. */
static const struct cot_thing *usual_format(struct cot_planning *p, const struct cot_thing *crop)
{
    const struct cot_thing *best = NULL;
    uint32_t most = 0;
    for (uint32_t i = 0; i < p->fill.line_count; i++) {
        const struct cot_thing *f = p->fill.line[i].format;
        uint32_t n = 0;
        if (!f || !same_thing(named(p->book, p->fill.line[i].variety, COT_F_CROP), crop)) continue;
        for (uint32_t k = 0; k < p->fill.line_count; k++)
            n += same_thing(p->fill.line[k].format, f) &&
                 same_thing(named(p->book, p->fill.line[k].variety, COT_F_CROP), crop);
        if (n < most || (n == most && best && strcmp(cot_thing_name(f), cot_thing_name(best)) >= 0)) continue;
        best = f;
        most = n;
    }
    return best;
}

/* The plug tray of the raising days that pot this crop on into the format; NULL: it is sown in it. */
static const struct cot_thing *plug_of(struct cot_planning *p, const struct cot_thing *crop,
                                       const struct cot_thing *format)
{
    size_t n;
    const struct cot_thing *const *r = cot_book_things(p->book, COT_THING_RAISING, &n);
    for (size_t i = 0; i < n; i++) {
        const struct cot_thing *plug = named(p->book, r[i], COT_F_FORMAT);
        if (!r[i]->gone && plug && same_thing(named(p->book, r[i], COT_F_CROP), crop) &&
            same_thing(named(p->book, r[i], COT_F_POT_FORMAT), format))
            return plug;
    }
    return NULL;
}

/* Whether the variety has lots of plugs, and no other. */
static bool plugs_alone(struct cot_planning *p, const struct cot_thing *variety)
{
    bool plugs = false;
    for (size_t i = 0; i < p->lots; i++) {
        if (p->lot[i]->gone || !same_thing(named(p->book, p->lot[i], COT_F_VARIETY), variety)) continue;
        if (!cot_lot_of_plugs(p->lot[i])) return false;
        plugs = true;
    }
    return plugs;
}

/* --- The window --------------------------------------------------------------------------------------------------- */

static enum cot_season_why why_of(enum cot_window_why w)
{
    static const enum cot_season_why of[] = {[COT_WINDOW_OPEN] = COT_SEASON_PLANNED,
                                             [COT_WINDOW_GONE] = COT_SEASON_GONE,
                                             [COT_WINDOW_BEYOND] = COT_SEASON_BEYOND,
                                             [COT_WINDOW_CLOSED] = COT_SEASON_CLOSED,
                                             [COT_WINDOW_NEVER] = COT_SEASON_NEVER};
    return of[w];
}

static enum cot_err find_window(struct cot_planning *p, struct cot_wanting *w)
{
    struct cot_raising g;
    struct cot_raised r = {p->book, w->l.crop, w->sow_format, w->sow_format != w->l.format ? w->l.format : NULL,
                           w->plugs};
    struct cot_wish wish = {w->l.date, (int32_t)w->asked.early, (int32_t)w->asked.late, p->ask->on};
    if (w->plugs) cot_raising_of_plugs(p->book, w->l.crop, w->sow_format, w->l.date, &g);
    else cot_raising_of(p->book, w->l.crop, w->sow_format, p->ask->on, &g);
    if (g.days == COT_RAISING_UNKNOWN) {
        w->l.why = COT_SEASON_NO_DAYS;
        return COT_OK;
    }
    enum cot_err err = cot_window_of(&p->calendar, &wish, cot_raise_of, &r, &w->window, p->fault);
    w->l.why = why_of(w->window.why);
    return err;
}

/* --- The lines ---------------------------------------------------------------------------------------------------- */

static bool wants_more(const struct cot_planning *p, const struct cot_fill_line *l, int64_t *need)
{
    int64_t wanted = p->ask->promised_only ? l->promised : l->declined ? l->promised : l->wanted;
    int64_t late = l->line ? cot_thing_int(l->line, COT_F_LATE, 0) : 0;
    *need = wanted - l->handed - l->allotted;
    return l->line && !l->line->gone && *need > 0 && l->date + late >= p->ask->on;
}

/* Where in the queue the line's first promise stands; UINT32_MAX: it has none. */
static enum cot_err read_ranks(struct cot_planning *p, uint32_t *rank)
{
    struct cot_lines lines;
    enum cot_err err = cot_lines_read(p->book, NULL, 0, NULL, &lines);
    for (uint32_t i = 0; i < p->fill.line_count; i++) rank[i] = UINT32_MAX;
    for (size_t c = 0; err == COT_OK && c < lines.chunk_count; c++) {
        uint32_t i = lines.chunk[c].line;
        if (i < p->fill.line_count && rank[i] == UINT32_MAX) rank[i] = (uint32_t)c;
    }
    cot_lines_free(&lines);
    return err;
}

static enum cot_err add_want(struct cot_planning *p, const struct cot_fill_line *l, int64_t need, uint32_t rank)
{
    struct cot_wanting *w = &p->want[p->wants++];
    *w = (struct cot_wanting){.open = need};
    enum cot_err err = cot_if_line_of(p->book, l->line, &w->asked);
    if (err != COT_OK) return err;
    w->l = (struct cot_season_line){.line = l->line,
                                    .farm = l->farm,
                                    .variety = l->variety,
                                    .format = l->format,
                                    .crop = named(p->book, l->variety, COT_F_CROP),
                                    .date = l->date,
                                    .need = need,
                                    .rank = rank,
                                    .waiting = l->waiting};
    if (!w->l.format && w->l.crop) w->l.format = usual_format(p, w->l.crop);
    w->l.why = !w->l.crop ? COT_SEASON_NO_DAYS : !w->l.format ? COT_SEASON_NO_FORMAT : COT_SEASON_PLANNED;
    if (w->l.why != COT_SEASON_PLANNED) return COT_OK;
    w->plugs = plugs_alone(p, w->l.variety);
    w->sow_format = w->plugs ? w->l.format : plug_of(p, w->l.crop, w->l.format);
    if (!w->sow_format) w->sow_format = w->l.format;
    return find_window(p, w);
}

static int by_rank(const void *x, const void *y)
{
    const struct cot_wanting *a = x, *b = y;
    if (a->l.rank != b->l.rank) return a->l.rank < b->l.rank ? -1 : 1;
    if (a->l.date != b->l.date) return a->l.date < b->l.date ? -1 : 1;
    return cot_id_cmp(&a->l.line->id, &b->l.line->id);
}

/* A farm's own seed goes to its own lines first, and some take no other. */
static const struct cot_thing *owner_that_matters(struct cot_planning *p, const struct cot_wanting *w)
{
    if (w->asked.own_seed) return w->l.farm;
    for (size_t i = 0; i < p->lots; i++) {
        const struct cot_id *owner = cot_thing_id(p->lot[i], COT_F_OWNER);
        if (owner && cot_id_cmp(owner, &w->l.farm->id) == 0 &&
            same_thing(named(p->book, p->lot[i], COT_F_VARIETY), w->l.variety))
            return w->l.farm;
    }
    return NULL;
}

enum cot_err cot_season_wants(struct cot_planning *p)
{
    uint32_t *rank = malloc((p->fill.line_count + 1) * sizeof *rank);
    p->want = calloc(p->fill.line_count + 1, sizeof *p->want);
    enum cot_err err = rank && p->want ? read_ranks(p, rank) : COT_MEMORY;
    for (uint32_t i = 0; err == COT_OK && i < p->fill.line_count; i++) {
        int64_t need;
        if (wants_more(p, &p->fill.line[i], &need)) err = add_want(p, &p->fill.line[i], need, rank[i]);
    }
    free(rank);
    if (err == COT_OK && p->wants > 1) qsort(p->want, p->wants, sizeof *p->want, by_rank);
    for (uint32_t i = 0; err == COT_OK && i < p->wants; i++) p->want[i].own = owner_that_matters(p, &p->want[i]);
    return err;
}

bool cot_season_alike(const struct cot_wanting *x, const struct cot_wanting *y)
{
    return same_thing(x->l.variety, y->l.variety) && same_thing(x->l.format, y->l.format) &&
           same_thing(x->sow_format, y->sow_format) && same_thing(x->own, y->own) &&
           x->asked.untreated == y->asked.untreated && x->asked.organic == y->asked.organic &&
           x->asked.own_seed == y->asked.own_seed;
}
