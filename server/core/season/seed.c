/* Which lots may serve a line, and what a sowing from them takes. */
#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/plates.h"
#include "season/in.h"

#define USUAL_LABEL 850 /* per mille: house assumption for seed that nobody has bought yet, no source */

static bool is_zero(const struct cot_id *id)
{
    static const struct cot_id zero;
    return cot_id_cmp(id, &zero) == 0;
}

static const struct cot_thing *named(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

size_t cot_season_lot_number(const struct cot_planning *p, const struct cot_thing *lot)
{
    size_t i = 0;
    while (i < p->lots && p->lot[i] != lot && cot_id_cmp(&p->lot[i]->id, &lot->id) != 0) i++;
    return i;
}

/* --- Plates ------------------------------------------------------------------------------------------------------- */

/* The plate that fits the tray and so many seeds a cell best; NULL: by hand. */
static const struct cot_thing *best_plate(struct cot_planning *p, const struct cot_seeding *s,
                                          const struct cot_thing *format)
{
    const struct cot_thing *of[COT_PLATES_MOST];
    struct cot_plate plate[COT_PLATES_MOST];
    struct cot_plate_offer offer;
    struct cot_plate_wish wish;
    if (s->lot && cot_lot_of_plugs(s->lot)) return NULL;
    uint32_t plates = cot_plates_read(p->book, of, plate);
    cot_plates_wish(p->book, s->lot, format, s->per_cell, &wish);
    return plates > 0 && cot_plate_offers(plate, plates, &wish, &offer, 1) > 0 ? of[offer.plate] : NULL;
}

/* Seeds in a cell, and plants that make it usable, as the crop was sown last; 1 and 1 otherwise. */
static void as_sown(struct cot_planning *p, const struct cot_thing *crop, struct cot_seeding *s)
{
    int32_t last = COT_DAY_NONE;
    s->per_cell = s->at_least = 1;
    for (uint32_t i = 0; i < p->fill.batch_count; i++) {
        const struct cot_thing *variety = cot_book_thing(p->book, &p->fill.stand[i].variety);
        const struct cot_thing *of = named(p->book, variety, COT_F_CROP), *batch = p->fill.batch[i];
        if (!batch || !of || cot_id_cmp(&of->id, &crop->id) != 0 || !is_zero(&p->fill.stand[i].parent)) continue;
        if (last != COT_DAY_NONE && p->fill.stand[i].sown <= last) continue;
        last = p->fill.stand[i].sown;
        s->per_cell = cot_thing_int(batch, COT_F_PER_CELL, 1);
        s->at_least = cot_thing_int(batch, COT_F_AT_LEAST, 1);
    }
}

/* --- Lots --------------------------------------------------------------------------------------------------------- */

static bool lot_fits(const struct cot_planning *p, const struct cot_wanting *w, const struct cot_thing *lot)
{
    const struct cot_id *variety = cot_thing_id(lot, COT_F_VARIETY), *owner = cot_thing_id(lot, COT_F_OWNER);
    bool own = owner && !is_zero(owner);
    if (lot->gone || cot_thing_int(lot, COT_F_WITHDRAWN, 0) || !variety) return false;
    if (cot_id_cmp(variety, &w->l.variety->id) != 0 || cot_lot_of_plugs(lot) != w->plugs) return false;
    if (cot_thing_int(lot, COT_F_USE_BY, COT_DAY_MAX) < p->ask->on) return false;
    if (own ? cot_id_cmp(owner, &w->l.farm->id) != 0 : w->asked.own_seed) return false;
    if (w->asked.untreated && cot_thing_int(lot, COT_F_TREATED, 0)) return false;
    return !w->asked.organic || cot_thing_int(lot, COT_F_ORGANIC, 0);
}

static enum cot_err read_seeding(struct cot_planning *p, const struct cot_wanting *w, const struct cot_thing *lot,
                                 struct cot_seeding *s)
{
    struct cot_sow_found found;
    memset(s, 0, sizeof *s);
    s->lot = lot;
    if (w->plugs) s->per_cell = s->at_least = 1;
    else as_sown(p, w->l.crop, s);
    s->plate = best_plate(p, s, w->sow_format);
    const struct cot_sow_asked asked = {
        .lot = lot, .format = w->sow_format, .plate = s->plate, .per_cell = s->per_cell, .at_least = s->at_least};
    enum cot_err err = cot_sow_read(p->book, &asked, p->ask->on, &s->sow, &found, NULL);
    s->stock = found.stock;
    s->last = (int32_t)cot_thing_int(lot, COT_F_USE_BY, COT_DAY_MAX);
    s->retest = cot_test_old(p->book, lot, p->ask->on);
    for (int i = 0; i < COT_MEMO; i++) s->memo[i].plants = -1;
    return err;
}

static bool dearer(const struct cot_wanting *w, const struct cot_seeding *s)
{
    return cot_thing_int(s->lot, COT_F_ORGANIC, 0) && !w->asked.organic;
}

/* The farm's own first, then not dearer, then with a good test, then the oldest test, then by name. */
static bool rather(const struct cot_wanting *w, const struct cot_seeding *a, const struct cot_seeding *b)
{
    bool own_a = cot_thing_id(a->lot, COT_F_OWNER) != NULL, own_b = cot_thing_id(b->lot, COT_F_OWNER) != NULL;
    int64_t day_a = cot_thing_int(a->lot, COT_F_TEST_DAY, COT_DAY_MAX),
            day_b = cot_thing_int(b->lot, COT_F_TEST_DAY, COT_DAY_MAX);
    if (own_a != own_b) return own_a;
    if (dearer(w, a) != dearer(w, b)) return dearer(w, b);
    if (a->retest != b->retest) return b->retest;
    if (day_a != day_b) return day_a < day_b;
    return strcmp(cot_thing_name(a->lot), cot_thing_name(b->lot)) < 0;
}

/* Seed that is not on hand is taken to be as the best lot of the variety, or as the label of any seed may say. */
static bool to_buy(struct cot_planning *p, const struct cot_wanting *w, const struct cot_seeding *like,
                   struct cot_seeding *s)
{
    const struct cot_thing *house = cot_book_house(p->book);
    if (like) {
        *s = *like;
    } else {
        struct cot_germ germ;
        const struct cot_germ_known known = {
            .label = USUAL_LABEL, .assumed_seeds = cot_thing_int(house, COT_F_ASSUMED_SEEDS, 100), .lawful = -1};
        const struct cot_drop_known drop = {.by_hand = true, .seeds = 1};
        memset(s, 0, sizeof *s);
        as_sown(p, w->l.crop, s);
        if (cot_germ_of(&known, &germ, NULL) != COT_OK) return false;
        s->sow = (struct cot_sow){.germ_a = germ.a,
                                  .germ_b = germ.b,
                                  .emerge = (double)cot_thing_int(w->l.crop, COT_F_EMERGENCE, 1000) / 1000,
                                  .fit = (double)cot_thing_int(w->l.crop, COT_F_USABLE_SHARE, 1000) / 1000,
                                  .later = COT_LATER_LOSS_ASSUMED / 1000.0,
                                  .batches = 1};
        s->sow.tray_cells = cot_thing_int(w->sow_format, COT_F_ROWS, 1) * cot_thing_int(w->sow_format, COT_F_COLS, 1);
        s->sow.cell.at_least = s->at_least;
        struct cot_drop_known cell = drop;
        cell.seeds = s->per_cell;
        if (cot_drop_of(&cell, &s->sow.cell.drop, NULL) != COT_OK) return false;
        cot_spread_assumed(&s->sow.spread);
        s->plate = best_plate(p, s, w->sow_format);
    }
    s->lot = NULL;
    s->stock = -1;
    s->last = COT_DAY_MAX;
    s->retest = false;
    for (int i = 0; i < COT_MEMO; i++) s->memo[i].plants = -1;
    return true;
}

uint32_t cot_season_lots(struct cot_planning *p, const struct cot_wanting *w, struct cot_seeding *out)
{
    uint32_t n = 0;
    for (size_t i = 0; i < p->lots; i++) {
        struct cot_seeding s;
        if (!lot_fits(p, w, p->lot[i]) || read_seeding(p, w, p->lot[i], &s) != COT_OK) continue;
        if (s.stock >= 0) s.stock = s.stock > p->used[i] ? s.stock - p->used[i] : 0;
        if (s.stock == 0 && n > 0) continue;
        uint32_t at = n;
        while (at > 0 && rather(w, &s, &out[at - 1])) at--;
        if (at == COT_SEASON_LOTS) continue;
        uint32_t moved = (n < COT_SEASON_LOTS ? n : COT_SEASON_LOTS - 1) - at;
        memmove(&out[at + 1], &out[at], moved * sizeof *out);
        out[at] = s;
        if (n < COT_SEASON_LOTS) n++;
    }
    return n + to_buy(p, w, n > 0 ? &out[0] : NULL, &out[n]);
}

/* --- Amounts ------------------------------------------------------------------------------------------------------ */

static void larger_trays(const struct cot_wanting *w, struct cot_pot_on *to)
{
    *to = (struct cot_pot_on){COT_TAKE_A, COT_TAKE_B,
                              cot_thing_int(w->l.format, COT_F_ROWS, 1) * cot_thing_int(w->l.format, COT_F_COLS, 1), 1,
                              1};
}

int64_t cot_season_trays(struct cot_planning *p, struct cot_seeding *s, const struct cot_wanting *w, int64_t plants,
                         int64_t *pot)
{
    uint32_t at = (uint32_t)((uint64_t)plants * UINT64_C(0x9e3779b97f4a7c15) >> 55) % COT_MEMO;
    if (s->memo[at].plants != plants) {
        s->memo[at].plants = plants;
        s->memo[at].trays = -1;
        s->memo[at].pot = 0;
        if (w->sow_format != w->l.format) {
            struct cot_pot_on to;
            larger_trays(w, &to);
            if (cot_pot_fewest(&s->sow, &to, plants, p->confidence, &s->memo[at].trays, &s->memo[at].pot, NULL) !=
                COT_OK)
                s->memo[at].trays = -1;
        } else if (cot_sow_fewest(&s->sow, plants, p->confidence, &s->memo[at].trays, NULL) != COT_OK) {
            s->memo[at].trays = -1;
        }
    }
    if (pot) *pot = s->memo[at].pot;
    return s->memo[at].trays;
}

int64_t cot_season_row_seeds(struct cot_planning *p, const struct cot_seeding *s, const struct cot_thing *format,
                             int64_t rows)
{
    struct cot_sow row = s->sow;
    struct cot_sow_seeds seeds;
    row.tray_cells = cot_thing_int(format, COT_F_COLS, 1);
    return cot_sow_seeds(&row, rows, p->confidence, &seeds, NULL) == COT_OK ? seeds.enough : -1;
}

int64_t cot_season_seeds(struct cot_planning *p, const struct cot_seeding *s, int64_t trays)
{
    struct cot_sow_seeds seeds;
    return cot_sow_seeds(&s->sow, trays, p->confidence, &seeds, NULL) == COT_OK ? seeds.enough : -1;
}

int64_t cot_season_yield(struct cot_planning *p, const struct cot_seeding *s, const struct cot_wanting *w,
                         int64_t trays, int64_t pot)
{
    if (trays < 1) return 0;
    if (w->sow_format != w->l.format && pot > 0) {
        struct cot_pot_on to;
        int64_t count_on;
        larger_trays(w, &to);
        return cot_pot_count_on(&s->sow, trays, &to, pot, p->confidence, &count_on, NULL) == COT_OK ? count_on : 0;
    }
    struct cot_plants plants;
    return cot_sow_plants(&s->sow, trays, &plants, NULL) == COT_OK ? cot_plants_count_on(&plants, p->confidence) : 0;
}

int64_t cot_season_rows(struct cot_planning *p, const struct cot_seeding *s, const struct cot_wanting *w,
                        int64_t plants)
{
    struct cot_sow row = s->sow;
    int64_t rows = cot_thing_int(w->sow_format, COT_F_ROWS, 1), enough;
    row.tray_cells = cot_thing_int(w->sow_format, COT_F_COLS, 1);
    if (w->sow_format != w->l.format || cot_sow_fewest(&row, plants, p->confidence, &enough, NULL) != COT_OK) return 0;
    return enough <= rows / 2 ? enough : 0; /* more than half a tray is a tray */
}
