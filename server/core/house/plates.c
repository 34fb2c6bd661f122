/* Plates of the house. */
#include "cotyledger/core/plates.h"

static const struct cot_thing *named(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

uint32_t cot_plates_read(struct cot_book *b, const struct cot_thing **thing, struct cot_plate *plate)
{
    size_t n;
    uint32_t plates = 0;
    const struct cot_thing *const *t = cot_book_things(b, COT_THING_PLATE, &n);
    for (size_t i = 0; i < n && plates < COT_PLATES_MOST; i++) {
        if (t[i]->gone) continue;
        plate[plates] = (struct cot_plate){.cells = cot_thing_int(t[i], COT_F_CELLS, 1),
                                           .holes = cot_thing_int(t[i], COT_F_HOLES, 1),
                                           .hole_um = cot_thing_int(t[i], COT_F_HOLE_UM, 0),
                                           .pattern = cot_thing_text(t[i], COT_F_PATTERN),
                                           .misses = cot_thing_int(t[i], COT_F_MISSES, -1),
                                           .twos = cot_thing_int(t[i], COT_F_TWOS, -1)};
        thing[plates++] = t[i];
    }
    return plates;
}

void cot_plates_wish(struct cot_book *b, const struct cot_thing *lot, const struct cot_thing *format, int64_t per_cell,
                     struct cot_plate_wish *out)
{
    const struct cot_thing *crop = named(b, named(b, lot, COT_F_VARIETY), COT_F_CROP);
    enum cot_seed_form form = lot ? (enum cot_seed_form)cot_thing_int(lot, COT_F_FORM, COT_SEED_RAW) : COT_SEED_RAW;
    bool bare = form == COT_SEED_RAW || form == COT_SEED_GRADED || form == COT_SEED_PRIMED;
    int64_t of_crop = crop && bare ? cot_thing_int(crop, COT_F_SEEDS_PER_G, 0) : 0;
    *out = (struct cot_plate_wish){
        .format = {cot_thing_int(format, COT_F_ROWS, 1), cot_thing_int(format, COT_F_COLS, 1),
                   cot_thing_text(format, COT_F_PATTERN)},
        .per_cell = per_cell,
        .seeds_per_g = lot ? cot_thing_int(lot, COT_F_SEEDS_PER_G, of_crop) : of_crop,
        .form = form,
        .shape = crop ? (enum cot_seed_shape)cot_thing_int(crop, COT_F_SHAPE, COT_SHAPE_UNKNOWN) : COT_SHAPE_UNKNOWN};
}
