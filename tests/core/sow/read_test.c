/* Tests of server/core/sow/read.c */
#include "cotyledger/core/sow.h"

#include <math.h>

#include "../season.h"

#define DAY 20900

static struct season s;
static struct cot_book *book;
static struct cot_id crop, variety, format, lot, plate;

static void start(void)
{
    season_new(&s, 4);
    crop = add_crop(&s, "Lettuce", 28, 35);
    variety = add_variety(&s, "Red Harbour", &crop);
    format = add_format(&s, "72 square", 6, 12);
    make(&s, COT_K_PLATE);
    name(&s, COT_F_NAME, "72 one-hole");
    say(&s, COT_F_CELLS, 72);
    say(&s, COT_F_HOLES, 1);
    plate = *done(&s);
    book = NULL;
}

static void end(void)
{
    cot_book_free(book);
    season_free(&s);
}

static void change(enum cot_kind kind, const struct cot_id *thing, enum cot_field field, int64_t value)
{
    make(&s, kind);
    about(&s, thing);
    say(&s, field, value);
    done(&s);
}

static enum cot_err read_on(bool by_plate, int32_t on, struct cot_sow *out, struct cot_sow_found *found,
                            struct cot_fault *fault)
{
    if (!book) book = season_book(&s, NULL);
    struct cot_sow_asked asked = {.lot = cot_book_thing(book, &lot),
                                  .format = cot_book_thing(book, &format),
                                  .plate = by_plate ? cot_book_thing(book, &plate) : NULL};
    return cot_sow_read(book, &asked, on, out, found, fault);
}

static void read_ok(bool by_plate, struct cot_sow *out, struct cot_sow_found *found)
{
    ck_assert_int_eq(read_on(by_plate, DAY, out, found, NULL), COT_OK);
}

START_TEST(a_tested_lot)
{
    struct cot_sow w;
    struct cot_sow_found f;
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    read_ok(true, &w, &f);
    ck_assert(f.germ.basis == COT_GERM_TEST && w.germ_a == 373 && w.germ_b == 29 && w.tray_cells == 72);
    ck_assert(w.batches == 1 && w.cell.at_least == 1 && w.cell.drop.most == 2 && f.per_cell == 1);
    ck_assert(w.emerge == 1 && w.fit == 0.95 && w.later == 0.01);
    ck_assert(!f.emerge_known && !f.fit_known && !f.later_known && !f.shape_known && f.singling_assumed);
    ck_assert(f.confidence == 900 && f.stock == -1 && f.seeds_per_g == 0);
    struct cot_singling usual = cot_singling_usual(COT_SEED_RAW, COT_SHAPE_UNKNOWN);
    ck_assert(f.singling.misses == usual.misses && f.singling.twos == usual.twos);
    ck_assert_str_eq(cot_thing_name(f.crop), "Lettuce");
}
END_TEST

START_TEST(a_label)
{
    struct cot_sow w;
    struct cot_sow_found f;
    make(&s, COT_K_LOT);
    name(&s, COT_F_NAME, "RH-2");
    point(&s, COT_F_VARIETY, &variety);
    say(&s, COT_F_LABEL_GERM, 900);
    lot = *done(&s);
    make(&s, COT_K_RULE);
    about(&s, &s.row[0].digest);
    say(&s, COT_F_ASSUMED_SEEDS, 200);
    say(&s, COT_F_CONFIDENCE, 950);
    season_put(&s, true, true);
    read_ok(false, &w, &f);
    ck_assert(f.germ.basis == COT_GERM_LABEL && f.germ.seeds == 200 && f.confidence == 950);
    ck_assert_double_eq_tol(w.germ_a, 181, 1e-9);
    ck_assert(w.cell.drop.p[1] == 1 && !f.singling_assumed);
}
END_TEST

/* The crop's settings, the seed's form and the plate's own figures. */
START_TEST(settings)
{
    struct cot_sow w;
    struct cot_sow_found f;
    change(COT_K_CROP, &crop, COT_F_EMERGENCE, 940);
    change(COT_K_CROP, &crop, COT_F_USABLE_SHARE, 900);
    change(COT_K_CROP, &crop, COT_F_LATER_LOSS, 30);
    change(COT_K_CROP, &crop, COT_F_SHAPE, COT_SHAPE_ANGULAR);
    start_lot(&s, "RH-1", &variety, 372);
    say(&s, COT_F_FORM, COT_SEED_GRADED);
    lot = *done(&s);
    change(COT_K_PLATE, &plate, COT_F_TWOS, 11);
    read_ok(true, &w, &f);
    ck_assert(w.emerge == 0.94 && w.fit == 0.9 && w.later == 0.03);
    ck_assert(f.emerge_known && f.fit_known && f.later_known && f.shape_known && f.singling_assumed);
    ck_assert_int_eq(f.singling.twos, 11);
    ck_assert_int_eq(f.singling.misses, cot_singling_usual(COT_SEED_GRADED, COT_SHAPE_ANGULAR).misses);
}
END_TEST

/* What the house found is kept, and what was usual makes room. */
START_TEST(a_poor_plate)
{
    struct cot_sow w;
    struct cot_sow_found f;
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    change(COT_K_PLATE, &plate, COT_F_MISSES, 990);
    read_ok(true, &w, &f);
    ck_assert(f.singling.misses == 990 && f.singling.twos == 10);
}
END_TEST

START_TEST(figures_without_sense)
{
    struct cot_sow w;
    struct cot_sow_found f;
    struct cot_fault fault = {0};
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    change(COT_K_PLATE, &plate, COT_F_MISSES, 700);
    change(COT_K_PLATE, &plate, COT_F_TWOS, 400);
    ck_assert_int_eq(read_on(true, DAY, &w, &f, &fault), COT_INVALID);
    ck_assert_ptr_nonnull(strstr(fault.msg, "72 one-hole"));
    ck_assert_int_eq(read_on(false, DAY, &w, &f, &fault), COT_OK);
}
END_TEST

/* Stock as written down last, less what was sown since. */
START_TEST(stock)
{
    struct cot_sow w;
    struct cot_sow_found f;
    start_lot(&s, "RH-1", &variety, 372);
    say(&s, COT_F_STOCK_SEEDS, 9000);
    lot = *done(&s);
    start_sown(&s, &lot, &format, 10, DAY);
    done(&s);
    change(COT_K_LOT, &lot, COT_F_STOCK_SEEDS, 5000);
    start_sown(&s, &lot, &format, 10, DAY);
    say(&s, COT_F_PER_CELL, 2);
    done(&s);
    start_sown(&s, &lot, &format, 1, DAY + 5);
    point(&s, COT_F_PLATE, &plate);
    done(&s);
    read_ok(true, &w, &f);
    ck_assert_int_eq(f.stock, 5000 - 1440);
    ck_assert_int_eq(read_on(true, DAY + 5, &w, &f, NULL), COT_OK);
    ck_assert_int_eq(f.stock, 5000 - 1440 - 72); /* as many seeds missing as double: 40 and 40 per mille */
}
END_TEST

START_TEST(stock_by_weight)
{
    struct cot_sow w;
    struct cot_sow_found f;
    change(COT_K_CROP, &crop, COT_F_SEEDS_PER_G, 800);
    start_lot(&s, "RH-1", &variety, 372);
    say(&s, COT_F_STOCK_MG, 12500);
    lot = *done(&s);
    start_sown(&s, &lot, &format, 200, DAY);
    done(&s);
    ck_assert_int_eq(read_on(true, DAY - 1, &w, &f, NULL), COT_OK);
    ck_assert_int_eq(f.stock, 10000);
    read_ok(true, &w, &f);
    ck_assert_int_eq(f.stock, 0); /* 14400 were sown: none is left */
    ck_assert_int_eq(f.seeds_per_g, 800);
}
END_TEST

/* A pellet weighs more than the seed in it. */
START_TEST(pellets_by_weight)
{
    struct cot_sow w;
    struct cot_sow_found f;
    change(COT_K_CROP, &crop, COT_F_SEEDS_PER_G, 800);
    start_lot(&s, "RH-1", &variety, 372);
    say(&s, COT_F_FORM, COT_SEED_PELLETED);
    say(&s, COT_F_STOCK_MG, 12500);
    lot = *done(&s);
    read_ok(true, &w, &f);
    ck_assert(f.seeds_per_g == 0 && f.stock == -1);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/sow/read");
    TCase *c = tcase_create("read");
    tcase_add_checked_fixture(c, start, end);
    tcase_add_test(c, a_tested_lot);
    tcase_add_test(c, a_label);
    tcase_add_test(c, settings);
    tcase_add_test(c, a_poor_plate);
    tcase_add_test(c, figures_without_sense);
    tcase_add_test(c, stock);
    tcase_add_test(c, stock_by_weight);
    tcase_add_test(c, pellets_by_weight);
    suite_add_tcase(suite, c);
    return suite;
}
