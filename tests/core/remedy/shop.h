/* A house with lines that need help, for the tests of remedies. Days count from ROWS_DAY0. */
#ifndef COT_TESTS_REMEDY_SHOP_H
#define COT_TESTS_REMEDY_SHOP_H

#include "../rows.h"
#include "cotyledger/core/remedy.h"

#define COLLECT (ROWS_DAY0 + 60)

struct shop {
    struct rows *r;
    struct cot_id crop, variety, other, format, small, lot, lot_other;
};

static inline struct cot_id shop_variety(struct shop *s, const char *name)
{
    return rows_variety(s->r, name, &s->crop);
}

static inline struct cot_id shop_lot(struct shop *s, const char *name, const struct cot_id *variety, int64_t tested,
                                     int64_t up)
{
    begin(s->r, "B", COT_K_LOT);
    with_text(s->r, COT_F_NAME, name);
    with_id(s->r, COT_F_VARIETY, variety);
    if (tested) with_int(s->r, COT_F_TEST_SEEDS, tested);
    if (tested) with_int(s->r, COT_F_TEST_GERM, up);
    return good(s->r);
}

/* Lettuce, 30 to 44 days in the tray; Red Harbour and Pale Sluice with a tested lot each; trays of 100 and of 50. */
static inline void shop_open(struct shop *s, const char *what, bool with_book)
{
    *s = (struct shop){.r = rows_new(what, with_book)};
    s->crop = rows_crop(s->r, "Lettuce", 30);
    begin(s->r, "A", COT_K_CROP);
    about(s->r, &s->crop);
    with_int(s->r, COT_F_TRAY_DAYS_MAX, 44);
    with_int(s->r, COT_F_COUNT_DAYS, 10);
    good(s->r);
    s->variety = shop_variety(s, "Red Harbour");
    s->other = shop_variety(s, "Pale Sluice");
    s->format = rows_format(s->r, "100 square", 10, 10);
    s->small = rows_format(s->r, "50 round", 5, 10);
    s->lot = shop_lot(s, "RH-1", &s->variety, 400, 376);
    s->lot_other = shop_lot(s, "PS-1", &s->other, 400, 380);
}

static inline struct cot_id shop_sow(struct shop *s, const struct cot_id *lot, const struct cot_id *format,
                                     int64_t trays, int32_t day)
{
    make_sown(s->r, "B", lot, format, trays);
    with_int(s->r, COT_F_DAY, day);
    return good(s->r);
}

/* Each tray counted whole: so many usable, doubles among them, the rest blank. */
static inline void shop_count(struct shop *s, const struct cot_id *batch, int32_t trays, int32_t cells, int32_t usable,
                              int32_t doubles, int32_t day)
{
    begin(s->r, "B", COT_K_COUNT);
    about(s->r, batch);
    with_int(s->r, COT_F_DAY, day);
    struct cot_tray_count c[40];
    ck_assert_int_le(trays, 40);
    for (int32_t i = 0; i < trays; i++)
        c[i] = (struct cot_tray_count){i + 1, cells, usable, cells - usable, 0, doubles};
    ck_assert(cot_fact_set_counts(&s->r->f, COT_F_COUNTS, rows_keep(s->r, c, sizeof c), (size_t)trays));
    good(s->r);
}

static inline struct cot_id shop_order(struct shop *s, const struct cot_id *farm, const struct cot_id *variety,
                                       const struct cot_id *format, int64_t plants, int32_t date)
{
    make_line(s->r, "A", farm, variety, plants, date);
    if (format) with_id(s->r, COT_F_FORMAT, format);
    return good(s->r);
}

static inline void shop_promise(struct shop *s, const struct cot_id *farm, const struct cot_id *line, int64_t plants)
{
    begin(s->r, "A", COT_K_PROMISE);
    about(s->r, line);
    of_farm(s->r, farm);
    with_int(s->r, COT_F_PLANTS, plants);
    good(s->r);
}

static inline struct cot_id shop_promised(struct shop *s, const struct cot_id *farm, const struct cot_id *variety,
                                          const struct cot_id *format, int64_t plants, int32_t date)
{
    struct cot_id line = shop_order(s, farm, variety, format, plants, date);
    shop_promise(s, farm, &line, plants);
    return line;
}

/* The best remedy of a kind for a line; NULL when there is none. */
static inline const struct cot_remedy *shop_remedy(const struct cot_remedies *m, const struct cot_id *line,
                                                   enum cot_remedy_kind kind)
{
    for (uint32_t i = 0; i < m->remedy_count; i++)
        if (m->remedy[i].kind == kind && cot_id_cmp(&m->fill.line[m->remedy[i].line].line->id, line) == 0)
            return &m->remedy[i];
    return NULL;
}

static inline void shop_remedies(struct shop *s, int32_t on, struct cot_remedies *out)
{
    struct cot_fault fault = {0};
    enum cot_err err = cot_remedies_read(s->r->book, on, NULL, NULL, out, &fault);
    ck_assert_msg(err == COT_OK, "%s", fault.msg);
}

/* What the fill says of a line. */
static inline struct cot_fill_line shop_line(struct shop *s, int32_t on, const struct cot_id *line)
{
    struct cot_fill f;
    struct cot_fill_line found = {0};
    ck_assert_int_eq(cot_fill_read(s->r->book, on, &f), COT_OK);
    for (uint32_t i = 0; i < f.line_count; i++)
        if (cot_id_cmp(&f.line[i].line->id, line) == 0) found = f.line[i];
    cot_fill_free(&f);
    ck_assert_ptr_nonnull(found.line);
    return found;
}

#endif
