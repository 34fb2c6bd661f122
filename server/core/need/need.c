/* Needs of the planned sowings. */
#include "cotyledger/core/need.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/place.h"
#include "cotyledger/core/planned.h"
#include "cotyledger/core/raising.h"
#include "cotyledger/core/remedy.h"
#include "cotyledger/core/sow.h"
#include "cotyledger/core/stays.h"
#include "cotyledger/core/stock.h"

#define BY_HAND_TRAYS 1 /* a tray at least, of a sowing in rows */

/* So much of something on a day, before it is held against what is on hand. */
struct taking {
    enum cot_need_what what;
    const struct cot_thing *of; /* lot of SEED, format of TRAYS */
    int64_t amount;
    int32_t day;
    uint32_t number; /* in the order in which they were found */
};

struct needing {
    struct cot_book *book;
    struct cot_needs *out;
    struct cot_stock *stock;
    struct taking *taking;
    size_t stocks, week_room, item_room, takings, taking_room;
    const struct cot_thing **planned; /* by day */
    int64_t *left;                    /* beside them: trays or rows not sown yet */
    bool failed;
    struct cot_need_week nowhere; /* when memory ran out */
};

void cot_needs_free(struct cot_needs *n)
{
    free(n->week);
    free(n->item);
    *n = (struct cot_needs){0};
}

int64_t cot_need_mix_ul(int64_t cells, int64_t cell_ul)
{
    return (cells * cell_ul * (100 + COT_NEED_MIX_MORE) + 99) / 100;
}

static const struct cot_thing *named(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

/* --- Weeks and items ---------------------------------------------------------------------------------------------- */

static int32_t monday_of(int32_t day)
{
    int year, week, weekday;
    cot_week_of(day, &year, &week, &weekday);
    return day - weekday + 1;
}

static bool grow(struct needing *n, void **list, size_t count, size_t *room, size_t size)
{
    if (count < *room) return true;
    size_t more = *room ? 2 * *room : 32;
    void *grown = realloc(*list, more * size);
    if (!grown) {
        n->failed = true;
        return false;
    }
    *list = grown;
    *room = more;
    return true;
}

static struct cot_need_week *week_of(struct needing *n, int32_t day)
{
    struct cot_needs *o = n->out;
    int32_t monday = monday_of(day);
    for (size_t i = 0; i < o->weeks; i++)
        if (o->week[i].monday == monday) return &o->week[i];
    if (!grow(n, (void **)&o->week, o->weeks, &n->week_room, sizeof *o->week)) return &n->nowhere;
    o->week[o->weeks] = (struct cot_need_week){.monday = monday};
    return &o->week[o->weeks++];
}

static int64_t counted(const struct needing *n, enum cot_stock_what what, const struct cot_thing *format)
{
    for (size_t i = 0; i < n->stocks; i++)
        if (n->stock[i].what == what && n->stock[i].format == format) return n->stock[i].amount;
    return -1;
}

static int64_t on_hand(const struct needing *n, enum cot_need_what what, const struct cot_thing *format)
{
    int64_t mix = counted(n, COT_STOCK_MIX, NULL);
    if (what == COT_NEED_MIX) return mix < 0 ? -1 : mix * 1000000;
    return what == COT_NEED_LABELS ? counted(n, COT_STOCK_LABELS, NULL) : counted(n, COT_STOCK_TRAYS, format);
}

static void take(struct needing *n, enum cot_need_what what, const struct cot_thing *of, int64_t amount, int32_t day)
{
    if (!grow(n, (void **)&n->taking, n->takings, &n->taking_room, sizeof *n->taking)) return;
    n->taking[n->takings] = (struct taking){what, of, amount, day, (uint32_t)n->takings};
    n->takings++;
}

static bool by_lot(enum cot_need_what what)
{
    return what == COT_NEED_SEED || what == COT_NEED_PLUGS;
}

static void describe_seed(struct needing *n, struct cot_need_item *i)
{
    const struct cot_sow_asked asked = {.lot = i->lot, .format = named(n->book, n->planned[0], COT_F_FORMAT)};
    struct cot_sow s;
    struct cot_sow_found found;
    bool read = cot_sow_read(n->book, &asked, n->out->from, &s, &found, NULL) == COT_OK;
    i->variety = named(n->book, i->lot, COT_F_VARIETY);
    i->on_hand = read ? found.stock : -1;
    i->seeds_per_g = read && i->what == COT_NEED_SEED ? found.seeds_per_g : 0;
    i->retest = cot_test_old(n->book, i->lot, n->out->from);
}

/* NULL: out of memory. */
static struct cot_need_item *item_of(struct needing *n, const struct taking *t)
{
    struct cot_needs *o = n->out;
    bool seed = by_lot(t->what);
    for (size_t k = 0; k < o->items; k++)
        if (o->item[k].what == t->what && (seed ? o->item[k].lot : o->item[k].format) == t->of) return &o->item[k];
    if (!grow(n, (void **)&o->item, o->items, &n->item_room, sizeof *o->item)) return NULL;
    struct cot_need_item *i = &o->item[o->items++];
    *i = (struct cot_need_item){.what = t->what, .first = t->day, .short_on = COT_DAY_NONE};
    if (seed) i->lot = t->of;
    else i->format = t->of;
    if (seed) describe_seed(n, i);
    else i->on_hand = on_hand(n, t->what, t->of);
    return i;
}

static int by_taking(const void *x, const void *y)
{
    const struct taking *a = x, *b = y;
    if (a->day != b->day) return a->day < b->day ? -1 : 1;
    return a->number < b->number ? -1 : a->number > b->number;
}

/* Day by day against what is on hand: plants are potted on weeks after their sowing. */
static void hold_against(struct needing *n)
{
    if (n->takings > 1) qsort(n->taking, n->takings, sizeof *n->taking, by_taking);
    for (size_t k = 0; k < n->takings; k++) {
        struct cot_need_item *i = item_of(n, &n->taking[k]);
        if (!i) return;
        i->need += n->taking[k].amount;
        if (i->on_hand >= 0 && i->need > i->on_hand && i->short_on == COT_DAY_NONE) i->short_on = n->taking[k].day;
        if (i->seeds_per_g > 0) i->mg = (i->need * 1000 + i->seeds_per_g - 1) / i->seeds_per_g;
    }
}

/* --- A sowing ----------------------------------------------------------------------------------------------------- */

/* A shared tray is one, of the first of its sowings. */
static bool has_tray(const struct needing *n, size_t number)
{
    const struct cot_thing *t = n->planned[number];
    const char *shared = cot_thing_text(t, COT_F_SHARED);
    for (size_t i = 0; i < number && shared[0]; i++)
        if (strcmp(cot_thing_text(n->planned[i], COT_F_SHARED), shared) == 0 &&
            cot_thing_int(n->planned[i], COT_F_SOW_DAY, 0) == cot_thing_int(t, COT_F_SOW_DAY, 0))
            return false;
    return true;
}

static void add_trays(struct needing *n, const struct cot_thing *format, int64_t trays, int32_t day)
{
    struct cot_need_week *w = week_of(n, day);
    int64_t cells = trays * cot_thing_int(format, COT_F_ROWS, 1) * cot_thing_int(format, COT_F_COLS, 1);
    int64_t cell_ul = cot_thing_int(format, COT_F_CELL_UL, 0), mix = cot_need_mix_ul(cells, cell_ul);
    w->trays += trays;
    w->labels += trays;
    w->mix_ul += mix;
    w->minutes += trays * n->out->tray_minutes;
    w->mix_unknown = w->mix_unknown || cell_ul == 0;
    n->out->any_mix_unknown = n->out->any_mix_unknown || cell_ul == 0;
    take(n, COT_NEED_TRAYS, format, trays, day);
    take(n, COT_NEED_LABELS, NULL, trays, day);
    if (mix > 0) take(n, COT_NEED_MIX, NULL, mix, day);
}

/* Larger trays, of plants that are potted on: those likely, one a cell. */
static void add_pots(struct needing *n, const struct cot_thing *planned, int64_t trays, int32_t day)
{
    const struct cot_thing *format;
    struct cot_raising g;
    int64_t pots = cot_planned_pots(n->book, planned, trays, n->out->from, &format);
    if (pots < 1) return;
    cot_raising_of(n->book,
                   named(n->book, named(n->book, named(n->book, planned, COT_F_LOT), COT_F_VARIETY), COT_F_CROP),
                   named(n->book, planned, COT_F_FORMAT), day, &g);
    if (day <= n->out->to - g.pot_days) add_trays(n, format, pots, day + g.pot_days);
}

static void add_sowing(struct needing *n, size_t number)
{
    const struct cot_thing *t = n->planned[number];
    const struct cot_thing *lot = named(n->book, t, COT_F_LOT), *format = named(n->book, t, COT_F_FORMAT);
    struct cot_sow_asked asked = {.lot = lot,
                                  .format = format,
                                  .plate = named(n->book, t, COT_F_PLATE),
                                  .per_cell = cot_thing_int(t, COT_F_PER_CELL, 0),
                                  .at_least = cot_thing_int(t, COT_F_AT_LEAST, 0)};
    struct cot_sow s;
    struct cot_sow_found found;
    struct cot_sow_seeds seeds;
    int32_t day = (int32_t)cot_thing_int(t, COT_F_SOW_DAY, n->out->from);
    if (day < n->out->from) day = n->out->from;
    int64_t left = n->left[number], rows = cot_thing_int(t, COT_F_TRAYS, 0) > 0 ? 0 : left, trays = rows ? 0 : left;
    if (!lot || !format) return;
    struct cot_need_week *w = week_of(n, day);
    w->sowings++;
    w->minutes += n->out->sowing_minutes;
    if (trays > 0 || has_tray(n, number)) add_trays(n, format, trays > 0 ? trays : BY_HAND_TRAYS, day);
    if (cot_sow_read(n->book, &asked, n->out->from, &s, &found, NULL) != COT_OK) return;
    if (trays > 0) add_pots(n, t, trays, day);
    if (rows > 0) s.tray_cells = cot_thing_int(format, COT_F_COLS, 1);
    if (cot_sow_seeds(&s, rows > 0 ? rows : trays, found.confidence, &seeds, NULL) != COT_OK) return;
    bool plugs = cot_lot_of_plugs(lot);
    take(n, plugs ? COT_NEED_PLUGS : COT_NEED_SEED, lot, seeds.enough, day);
    if (!plugs) week_of(n, day)->seeds += seeds.enough;
}

/* --- All ---------------------------------------------------------------------------------------------------------- */

static int by_day(const void *x, const void *y)
{
    const struct cot_thing *a = *(const struct cot_thing *const *)x, *b = *(const struct cot_thing *const *)y;
    int64_t da = cot_thing_int(a, COT_F_SOW_DAY, COT_DAY_MAX), db = cot_thing_int(b, COT_F_SOW_DAY, COT_DAY_MAX);
    if (da != db) return da < db ? -1 : 1;
    return cot_id_cmp(&a->id, &b->id);
}

static int by_week(const void *x, const void *y)
{
    const struct cot_need_week *a = x, *b = y;
    return a->monday < b->monday ? -1 : a->monday > b->monday;
}

static const char *item_name(const struct cot_thing *t)
{
    return t ? cot_thing_name(t) : "";
}

static int by_item(const void *x, const void *y)
{
    const struct cot_need_item *a = x, *b = y;
    if (a->what != b->what) return a->what < b->what ? -1 : 1;
    int c = strcmp(item_name(a->variety), item_name(b->variety));
    if (c == 0) c = strcmp(item_name(a->lot), item_name(b->lot));
    return c != 0 ? c : strcmp(item_name(a->format), item_name(b->format));
}

enum cot_err cot_needs_read(struct cot_book *b, int32_t from, int32_t to, struct cot_needs *out,
                            struct cot_fault *fault)
{
    struct needing n = {.book = b, .out = out};
    size_t all, count = 0;
    const struct cot_thing *house = cot_book_house(b);
    *out = (struct cot_needs){.from = from, .to = to};
    if (!house) return cot_fail(fault, COT_INVALID, "the book has no house yet: fetch first");
    out->sowing_minutes = cot_thing_int(house, COT_F_SOWING_MINUTES, COT_MINUTES_SOWING);
    out->tray_minutes = cot_thing_int(house, COT_F_TRAY_MINUTES, COT_MINUTES_TRAY);
    out->minutes_said = cot_thing_value(house, COT_F_SOWING_MINUTES) || cot_thing_value(house, COT_F_TRAY_MINUTES);
    enum cot_err err = cot_stock_read(b, from, &n.stock, &n.stocks);
    const struct cot_thing *const *planned = cot_book_things(b, COT_THING_PLANNED, &all);
    n.planned = malloc((all + 1) * sizeof *n.planned);
    if (err == COT_OK && !n.planned) err = COT_MEMORY;
    for (size_t i = 0; err == COT_OK && i < all; i++) {
        struct cot_planned_done done;
        if (planned[i]->gone || cot_thing_int(planned[i], COT_F_SOW_DAY, COT_DAY_MAX) > to) continue;
        if (cot_planned_read(b, planned[i], from, &done) == COT_OK && done.sown < done.planned)
            n.planned[count++] = planned[i];
    }
    if (err == COT_OK && count > 1) qsort(n.planned, count, sizeof *n.planned, by_day);
    n.left = calloc(count + 1, sizeof *n.left);
    if (err == COT_OK && !n.left) err = COT_MEMORY;
    for (size_t i = 0; err == COT_OK && i < count; i++) {
        struct cot_planned_done done;
        err = cot_planned_read(b, n.planned[i], from, &done);
        n.left[i] = done.planned - done.sown;
    }
    for (size_t i = 0; err == COT_OK && i < count; i++) add_sowing(&n, i);
    if (err == COT_OK) hold_against(&n);
    if (n.failed) err = COT_MEMORY;
    if (err == COT_OK && out->weeks > 1) qsort(out->week, out->weeks, sizeof *out->week, by_week);
    if (err == COT_OK && out->items > 1) qsort(out->item, out->items, sizeof *out->item, by_item);
    free(n.planned);
    free(n.left);
    free(n.taking);
    free(n.stock);
    if (err != COT_OK) cot_needs_free(out);
    return err == COT_MEMORY ? cot_fail(fault, err, "out of memory") : err;
}
