/* A sowing read from the book. */
#include "cotyledger/core/prob.h"
#include "sow/calc.h"
#include "stand/stand.h"

static const struct cot_thing *linked(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

static int64_t int_of(const struct cot_thing *t, enum cot_field f, int64_t otherwise)
{
    return t ? cot_thing_int(t, f, otherwise) : otherwise;
}

static bool has(const struct cot_thing *t, enum cot_field f)
{
    return t && cot_thing_value(t, f) != NULL;
}

bool cot_lot_of_plugs(const struct cot_thing *lot)
{
    return int_of(lot, COT_F_FORM, COT_SEED_RAW) == COT_SEED_PLUG;
}

/* --- The cell ----------------------------------------------------------------------------------------------------- */
static struct cot_singling singling_of(const struct cot_sow_asked *asked, const struct cot_thing *crop)
{
    int64_t form = int_of(asked->lot, COT_F_FORM, COT_SEED_RAW);
    int64_t shape = int_of(crop, COT_F_SHAPE, COT_SHAPE_UNKNOWN);
    struct cot_singling s = cot_singling_usual((enum cot_seed_form)form, (enum cot_seed_shape)shape);
    bool misses = has(asked->plate, COT_F_MISSES), twos = has(asked->plate, COT_F_TWOS);
    s.misses = int_of(asked->plate, COT_F_MISSES, s.misses);
    s.twos = int_of(asked->plate, COT_F_TWOS, s.twos);
    if (misses && !twos && s.twos > 1000 - s.misses) s.twos = 1000 - s.misses;
    if (twos && !misses && s.misses > 1000 - s.twos) s.misses = 1000 - s.twos;
    return s;
}

enum cot_err cot_sow_cell(struct cot_book *b, const struct cot_sow_asked *asked, struct cot_cell *out,
                          struct cot_sow_found *found, struct cot_fault *fault)
{
    found->variety = linked(b, asked->lot, COT_F_VARIETY);
    found->crop = linked(b, found->variety, COT_F_CROP);
    found->shape_known = has(found->crop, COT_F_SHAPE);
    found->singling = singling_of(asked, found->crop);
    found->singling_assumed = asked->plate && !(has(asked->plate, COT_F_MISSES) && has(asked->plate, COT_F_TWOS));
    found->per_cell = asked->per_cell > 0 ? asked->per_cell : int_of(asked->plate, COT_F_HOLES, 1);
    struct cot_drop_known k = {.by_hand = asked->plate == NULL,
                               .seeds = found->per_cell,
                               .singling = found->singling,
                               .put_right = asked->put_right};
    out->at_least = asked->at_least > 0 ? asked->at_least : 1;
    enum cot_err err = cot_drop_of(&k, &out->drop, fault);
    if (err != COT_OK && asked->plate && fault) err = cot_within(fault, "plate %s", cot_thing_name(asked->plate));
    return err;
}

/* --- Seed left ---------------------------------------------------------------------------------------------------- */
static int64_t seeds_per_g(const struct cot_thing *lot, const struct cot_thing *crop)
{
    int64_t form = int_of(lot, COT_F_FORM, COT_SEED_RAW),
            bare = form != COT_SEED_PELLETED && form != COT_SEED_COATED && form != COT_SEED_PLUG;
    return int_of(lot, COT_F_SEEDS_PER_G, bare ? int_of(crop, COT_F_SEEDS_PER_G, 0) : 0);
}

static bool writes_stock(const struct cot_fact *f)
{
    const struct cot_value *seeds = cot_fact_value(f, COT_F_STOCK_SEEDS), *mg = cot_fact_value(f, COT_F_STOCK_MG);
    return (seeds && seeds->type != COT_T_NONE) || (mg && mg->type != COT_T_NONE);
}

/* Where the stock was written down last; false when it never was. */
static bool stock_place(struct cot_book *b, const struct cot_thing *lot, struct cot_place *place)
{
    size_t n;
    bool any = false;
    const struct cot_note *note = cot_book_history(b, &lot->id, &n);
    for (size_t i = 0; i < n; i++) {
        if (note[i].verdict != COT_BOOKED || !writes_stock(note[i].fact)) continue;
        *place = cot_place_of(&note[i]);
        any = true;
    }
    return any;
}

/* Seeds that a batch took on average. */
static double seeds_of_batch(struct cot_book *b, const struct cot_thing *batch, const struct cot_thing *lot)
{
    const struct cot_thing *format = linked(b, batch, COT_F_FORMAT);
    int64_t rows = int_of(format, COT_F_ROWS, 0), cols = int_of(format, COT_F_COLS, 0);
    int64_t trays = int_of(batch, COT_F_TRAYS, 0), part = int_of(batch, COT_F_TRAY_ROWS, 0);
    struct cot_sow_asked asked = {.lot = lot,
                                  .format = format,
                                  .plate = linked(b, batch, COT_F_PLATE),
                                  .per_cell = int_of(batch, COT_F_PER_CELL, 0),
                                  .put_right = int_of(batch, COT_F_PUT_RIGHT, 0) != 0};
    struct cot_sow_found found;
    struct cot_cell cell;
    double cells = (double)(cols * (trays > 0 ? trays * rows : part < rows ? part : rows));
    if (cot_sow_cell(b, &asked, &cell, &found, NULL) != COT_OK) return cells * (double)found.per_cell;
    return cells * cot_drop_mean(&cell.drop);
}

static int64_t stock_left(struct cot_book *b, const struct cot_thing *lot, int64_t per_g, int32_t on)
{
    struct cot_place written;
    size_t n;
    bool counted = has(lot, COT_F_STOCK_SEEDS), weighed = has(lot, COT_F_STOCK_MG) && per_g > 0;
    if ((!counted && !weighed) || !stock_place(b, lot, &written)) return -1;
    double left = counted ? (double)int_of(lot, COT_F_STOCK_SEEDS, 0)
                          : (double)int_of(lot, COT_F_STOCK_MG, 0) * (double)per_g / 1000;
    const struct cot_thing *const *batch = cot_book_things(b, COT_THING_BATCH, &n);
    for (size_t i = 0; i < n; i++) {
        const struct cot_id *from = cot_thing_id(batch[i], COT_F_LOT);
        struct cot_note note;
        if (batch[i]->gone || !from || cot_book_thing(b, from) != lot) continue;
        if (int_of(batch[i], COT_F_DAY, COT_DAY_MAX) > on || !cot_book_verdict(b, &batch[i]->id, &note)) continue;
        struct cot_place sown = cot_place_of(&note);
        if (cot_place_order(&sown, &written) > 0) left -= seeds_of_batch(b, batch[i], lot);
    }
    left = cot_round9(left);
    return left > 0 ? (int64_t)left : 0;
}

/* --- All of it ---------------------------------------------------------------------------------------------------- */
static void read_house(struct cot_book *b, const struct cot_thing *lot, struct cot_germ_known *germ,
                       struct cot_sow_found *found)
{
    const struct cot_thing *house = cot_book_house(b);
    found->confidence = (int32_t)int_of(house, COT_F_CONFIDENCE, COT_CONFIDENCE_DEFAULT);
    bool tested = has(lot, COT_F_TEST_SEEDS) && has(lot, COT_F_TEST_GERM);
    *germ = (struct cot_germ_known){.test_seeds = tested ? int_of(lot, COT_F_TEST_SEEDS, 0) : 0,
                                    .test_germ = tested ? int_of(lot, COT_F_TEST_GERM, 0) : 0,
                                    .label = int_of(lot, COT_F_LABEL_GERM, -1),
                                    .assumed_seeds = int_of(house, COT_F_ASSUMED_SEEDS, COT_ASSUMED_SEEDS_DEFAULT),
                                    .lawful = int_of(found->crop, COT_F_MIN_GERM, -1)};
}

static void read_crop(const struct cot_thing *crop, struct cot_sow *out, struct cot_sow_found *found)
{
    found->emerge_known = has(crop, COT_F_EMERGENCE);
    found->fit_known = has(crop, COT_F_USABLE_SHARE);
    out->emerge = (double)int_of(crop, COT_F_EMERGENCE, COT_EMERGENCE_DEFAULT) / 1000;
    out->fit = (double)int_of(crop, COT_F_USABLE_SHARE, COT_USABLE_DEFAULT) / 1000;
}

enum cot_err cot_sow_read(struct cot_book *b, const struct cot_sow_asked *asked, int32_t on, struct cot_sow *out,
                          struct cot_sow_found *found, struct cot_fault *fault)
{
    struct cot_germ_known germ;
    *out = (struct cot_sow){.batches = asked->batches > 0 ? asked->batches : 1};
    *found = (struct cot_sow_found){.stock = -1};
    enum cot_err err = cot_sow_cell(b, asked, &out->cell, found, fault);
    if (err != COT_OK) return err;
    read_house(b, asked->lot, &germ, found);
    err = cot_germ_of(&germ, &found->germ, fault);
    if (err != COT_OK) return fault ? cot_within(fault, "lot %s", cot_thing_name(asked->lot)) : err;
    out->germ_a = found->germ.a;
    out->germ_b = found->germ.b;
    read_crop(found->crop, out, found);
    if (cot_lot_of_plugs(asked->lot) && found->germ.basis != COT_GERM_TEST) {
        out->germ_a = found->germ.a = COT_TAKE_A;
        out->germ_b = found->germ.b = COT_TAKE_B;
    }
    if (cot_lot_of_plugs(asked->lot)) out->emerge = out->fit = 1;
    out->tray_cells = int_of(asked->format, COT_F_ROWS, 0) * int_of(asked->format, COT_F_COLS, 0);
    struct cot_next next;
    err = cot_next_read(b, asked->lot, on, &next);
    if (err != COT_OK) return err;
    out->spread = next.spread;
    out->learned = true;
    out->common = next.common;
    out->later = next.later < 0.9 ? next.later : 0.9;
    found->later_known = has(found->crop, COT_F_LATER_LOSS) || next.later != COT_LATER_LOSS_ASSUMED / 1000.0;
    found->seeds_per_g = seeds_per_g(asked->lot, found->crop);
    found->stock = stock_left(b, asked->lot, found->seeds_per_g, on);
    return cot_sow_check(out, fault);
}
