/* server/core/house/place.c: what a place holds, how a bench is understood, how old a test is. */
#include "cotyledger/core/place.h"
#include "../season.h"

static struct season s;
static struct cot_book *book;
static struct cot_id bench, frame, usual, large, small, unknown;

static struct cot_id add_measured(const char *text, int length_mm, int width_mm)
{
    make(&s, COT_K_FORMAT);
    name(&s, COT_F_NAME, text);
    say(&s, COT_F_ROWS, 8);
    say(&s, COT_F_COLS, 16);
    say(&s, COT_F_LENGTH_UM, length_mm * 1000);
    say(&s, COT_F_WIDTH_UM, width_mm * 1000);
    return *done(&s);
}

static struct cot_id add_place(const char *text, enum cot_place_sort sort, int spots)
{
    make(&s, COT_K_PLACE);
    name(&s, COT_F_NAME, text);
    say(&s, COT_F_SORT, sort);
    say(&s, COT_F_SPOTS, spots);
    return *done(&s);
}

static void setup(void)
{
    season_new(&s, 1);
    bench = add_place("Bench 3", COT_PLACE_BENCH, 40);
    frame = add_place("cold frame 2", COT_PLACE_FRAME, 120);
    usual = add_measured("128", 540, 280);
    large = add_measured("60 deep", 600, 400);
    small = add_measured("24 strip", 300, 200);
    unknown = add_format(&s, "72 square", 6, 12);
    book = NULL;
}

static void read_book(void)
{
    cot_book_free(book);
    book = season_book(&s, NULL);
}

static void teardown(void)
{
    cot_book_free(book);
    season_free(&s);
}

static const struct cot_thing *thing(const struct cot_id *id)
{
    const struct cot_thing *t = cot_book_thing(book, id);
    ck_assert_ptr_nonnull(t);
    return t;
}

/* 600 x 400 mm on 540 x 280 mm: 240000 / 151200 = 1.5873 spots. */
START_TEST(larger_trays_take_more)
{
    read_book();
    int64_t footprint = cot_usual_footprint(book);
    ck_assert_int_eq(footprint, INT64_C(540000) * 280000);
    ck_assert_int_eq(cot_tray_spots(thing(&usual), footprint), 1000);
    ck_assert_int_eq(cot_tray_spots(thing(&large), footprint), 1587);
    ck_assert_int_eq(cot_tray_spots(thing(&small), footprint), 1000);
    ck_assert_int_eq(cot_tray_spots(thing(&unknown), footprint), 1000);
    ck_assert_int_eq(cot_tray_spots(NULL, footprint), 1000);
    ck_assert_int_eq(cot_trays_spots(thing(&usual), footprint, 40), 40);
    ck_assert_int_eq(cot_trays_spots(thing(&large), footprint, 10), 16);
    ck_assert_int_eq(cot_trays_spots(thing(&large), footprint, 0), 0);
    ck_assert_int_eq(cot_trays_spots(thing(&large), footprint, -3), 0);
}
END_TEST

/* A tray as large as a tray may be, so many as there can be: no overflow. */
START_TEST(largest_figures)
{
    struct cot_id huge = add_measured("as large as can be", 3000, 3000);
    read_book();
    int64_t spots = cot_tray_spots(thing(&huge), (int64_t)10000 * 10000);
    ck_assert_int_eq(spots, INT64_C(90000) * 1000);
    ck_assert_int_eq(cot_trays_spots(thing(&huge), (int64_t)10000 * 10000, 100000), INT64_C(90000) * 100000);
}
END_TEST

START_TEST(the_house_says_what_is_usual)
{
    make(&s, COT_K_RULE);
    say(&s, COT_F_LENGTH_UM, 600000);
    season_put(&s, true, true);
    read_book();
    ck_assert_int_eq(cot_usual_footprint(book), INT64_C(540000) * 280000); /* half a measure is none */
    make(&s, COT_K_RULE);
    say(&s, COT_F_WIDTH_UM, 400000);
    season_put(&s, true, true);
    read_book();
    ck_assert_int_eq(cot_usual_footprint(book), INT64_C(600000) * 400000);
    ck_assert_int_eq(cot_tray_spots(thing(&large), cot_usual_footprint(book)), 1000);
}
END_TEST

START_TEST(places_by_name)
{
    make(&s, COT_K_TAKEN_BACK);
    about(&s, &frame);
    done(&s);
    read_book();
    ck_assert_ptr_eq(cot_place_named(book, "Bench 3"), thing(&bench));
    ck_assert_ptr_eq(cot_place_named(book, " bench 3 "), thing(&bench));
    ck_assert_ptr_null(cot_place_named(book, "bench"));
    ck_assert_ptr_null(cot_place_named(book, "bench 31"));
    ck_assert_ptr_null(cot_place_named(book, ""));
    ck_assert_ptr_null(cot_place_named(book, "   "));
    ck_assert_ptr_null(cot_place_named(book, "cold frame 2"));
}
END_TEST

START_TEST(tests_grow_old)
{
    struct cot_id crop = add_crop(&s, "Lettuce", 28, 35), variety = add_variety(&s, "Red Harbour", &crop);
    start_lot(&s, "RH-1", &variety, 372);
    say(&s, COT_F_TEST_DAY, 20000);
    struct cot_id lot = *done(&s);
    start_lot(&s, "RH-2", &variety, 372);
    struct cot_id undated = *done(&s);
    read_book();
    ck_assert_int_eq(cot_test_age(thing(&lot), 20180), 180);
    ck_assert_int_eq(cot_test_age(thing(&lot), 19999), -1);
    ck_assert_int_eq(cot_test_age(thing(&undated), 20180), -1);
    ck_assert(!cot_test_old(book, thing(&lot), 30000)); /* the house has no rule */
    make(&s, COT_K_RULE);
    say(&s, COT_F_TEST_AGE, 180);
    season_put(&s, true, true);
    read_book();
    ck_assert(!cot_test_old(book, thing(&lot), 20179));
    ck_assert(cot_test_old(book, thing(&lot), 20180));
    ck_assert(!cot_test_old(book, thing(&undated), 30000));
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("house_place");
    TCase *t = tcase_create("places");
    tcase_add_checked_fixture(t, setup, teardown);
    tcase_add_test(t, larger_trays_take_more);
    tcase_add_test(t, largest_figures);
    tcase_add_test(t, the_house_says_what_is_usual);
    tcase_add_test(t, places_by_name);
    tcase_add_test(t, tests_grow_old);
    suite_add_tcase(suite, t);
    return suite;
}
