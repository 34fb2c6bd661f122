/* server/core/check/{figures,batch,lot}.c: what a book says of counts and tests. */
#include <math.h>

#include "check/figures.h"
#include "../season.h"

static struct season s;
static struct cot_id crop, variety, format, lot, batch;
static struct cot_book *book;

#define SOWN 20900 /* 2027-03-23 */
#define COUNTED (SOWN + 12)
#define TODAY (SOWN + 20)

static void setup(void)
{
    season_new(&s, 1);
    crop = add_crop(&s, "Lettuce", 28, 35);
    variety = add_variety(&s, "Red Harbour", &crop);
    format = add_format(&s, "72 square", 6, 12);
    start_lot(&s, "RH-1", &variety, 380);
    lot = *done(&s);
    start_sown(&s, &lot, &format, 10, SOWN);
    batch = *done(&s);
    book = NULL;
}

static void teardown(void)
{
    cot_book_free(book);
    season_free(&s);
}

static const struct cot_thing *thing(const struct cot_id *id)
{
    cot_book_free(book);
    book = season_book(&s, NULL);
    const struct cot_thing *t = cot_book_thing(book, id);
    ck_assert_ptr_nonnull(t);
    return t;
}

static struct cot_check_batch check_on(const struct cot_id *id, int32_t on)
{
    const struct cot_thing *t = thing(id); /* makes the book */
    struct cot_check_batch out;
    ck_assert_int_eq(cot_check_batch(book, t, on, &out), COT_OK);
    return out;
}

static struct cot_check_batch check(const struct cot_id *id)
{
    return check_on(id, TODAY);
}

static struct cot_tray_count kept[64];
static size_t kept_count;

static void count(const struct cot_id *of, int32_t tray, int32_t usable, int32_t day)
{
    ck_assert_uint_lt(kept_count, 64);
    kept[kept_count] = (struct cot_tray_count){tray, 72, usable, 72 - usable, 0, 0};
    make(&s, COT_K_COUNT);
    about(&s, of);
    say(&s, COT_F_DAY, day);
    ck_assert(cot_fact_set_counts(&s.next, COT_F_COUNTS, &kept[kept_count++], 1));
    done(&s);
}

static void count_three(const struct cot_id *of, int32_t usable, int32_t day)
{
    for (int32_t i = 0; i < 3; i++) count(of, 2 + 3 * i, usable + i, day);
}

static void lose(int32_t day, const int32_t *which)
{
    make(&s, COT_K_LOST);
    about(&s, &batch);
    say(&s, COT_F_DAY, day);
    say(&s, COT_F_PLANTS, 30);
    name(&s, COT_F_WHY, "mice");
    if (which) ck_assert(cot_fact_set_numbers(&s.next, COT_F_WHICH, which, 1));
    done(&s);
}

START_TEST(not_counted)
{
    struct cot_check_batch c = check(&batch);
    ck_assert(!c.counted && !c.compared && c.trays == 0);
    cot_check_batch_free(&c);
    struct cot_check_batch none;
    ck_assert_int_eq(cot_check_batch(book, cot_book_thing(book, &lot), TODAY, &none), COT_NOT_FOUND);
    cot_check_batch_free(&none);
    ck_assert_int_eq(cot_check_batch(book, cot_book_thing(book, &batch), SOWN - 1, &none), COT_NOT_FOUND);
    cot_check_batch_free(&none);
}
END_TEST

START_TEST(as_expected)
{
    count_three(&batch, 63, COUNTED);
    struct cot_check_batch c = check(&batch);
    ck_assert(c.counted && !c.early && c.compared && c.assumed);
    ck_assert_uint_eq(c.trays, 3);
    ck_assert(c.tray[0].tray == 2 && c.tray[2].tray == 8 && c.tray[2].usable == 65);
    ck_assert_int_eq(c.looked, 216);
    ck_assert_int_eq(c.usable, 192);
    ck_assert_uint_eq(c.unlike, 0);
    ck_assert(!c.low.low && c.low.expected > 180 && c.low.expected < 200);
    cot_check_batch_free(&c);
}
END_TEST

START_TEST(one_tray_unlike)
{
    count_three(&batch, 64, COUNTED);
    count(&batch, 9, 12, COUNTED);
    count(&batch, 10, 65, COUNTED);
    struct cot_check_batch c = check(&batch);
    ck_assert_uint_eq(c.unlike, 1);
    ck_assert(c.tray[3].tray == 9 && c.tray[3].unlike);
    cot_check_batch_free(&c);
    count(&batch, 9, 62, COUNTED + 1); /* counted again: it was a slip */
    c = check(&batch);
    ck_assert_uint_eq(c.unlike, 0);
    cot_check_batch_free(&c);
    c = check_on(&batch, COUNTED); /* as it was known the day before */
    ck_assert_uint_eq(c.unlike, 1);
    cot_check_batch_free(&c);
}
END_TEST

START_TEST(what_is_left_out)
{
    const int32_t two[1] = {2};
    count(&batch, 2, 60, COUNTED);
    lose(COUNTED + 1, two);
    count(&batch, 2, 30, COUNTED + 2); /* after the loss: the figure before it stands here */
    count(&batch, 5, 61, COUNTED + 2);
    struct cot_check_batch c = check(&batch);
    ck_assert_uint_eq(c.trays, 2);
    ck_assert(c.tray[0].usable == 60 && c.tray[1].usable == 61);
    cot_check_batch_free(&c);
    lose(COUNTED + 3, NULL); /* from any tray */
    count(&batch, 8, 20, COUNTED + 4);
    c = check(&batch);
    ck_assert_uint_eq(c.trays, 2);
    cot_check_batch_free(&c);
}
END_TEST

START_TEST(after_plants_left)
{
    struct cot_id farm = add_named(&s, COT_K_FARM, "Alder Ford"), line;
    start_line(&s, &farm, &variety, 400, TODAY);
    line = *done(&s);
    count(&batch, 2, 60, COUNTED);
    hand_over(&s, &line, &farm, &batch, 100, COUNTED + 1);
    count(&batch, 5, 20, COUNTED + 2);
    struct cot_check_batch c = check(&batch);
    ck_assert_uint_eq(c.trays, 1);
    ck_assert_int_eq(c.tray[0].tray, 2);
    cot_check_batch_free(&c);
}
END_TEST

START_TEST(early_counts)
{
    count_three(&batch, 20, SOWN + 6);
    struct cot_check_batch c = check(&batch);
    ck_assert(c.counted && c.early && !c.compared && c.trays == 3);
    cot_check_batch_free(&c);
    count(&batch, 2, 64, COUNTED); /* a count in time comes first */
    c = check(&batch);
    ck_assert(c.counted && !c.early && c.compared && c.trays == 1 && !c.low.low);
    cot_check_batch_free(&c);
}
END_TEST

START_TEST(pooled_counts)
{
    make(&s, COT_K_COUNT);
    about(&s, &batch);
    say(&s, COT_F_DAY, COUNTED);
    say(&s, COT_F_TRAYS, 3);
    say(&s, COT_F_LOOKED, 216);
    say(&s, COT_F_USABLE, 60);
    done(&s);
    struct cot_check_batch c = check(&batch);
    ck_assert(c.counted && c.trays == 0 && c.looked == 216 && c.usable == 60);
    ck_assert(c.compared && c.low.low);
    ck_assert_int_eq(c.points, COT_POINTS_NONE);
    cot_check_batch_free(&c);
}
END_TEST

/* More batches: of the lot on another day, and of another lot on the day. */
static struct cot_id sow(const struct cot_id *of, int32_t day)
{
    start_sown(&s, of, &format, 10, day);
    return *done(&s);
}

START_TEST(the_seed)
{
    struct cot_id again = sow(&lot, SOWN - 5), other_lot, beside;
    start_lot(&s, "RH-2", &variety, 380);
    other_lot = *done(&s);
    beside = sow(&other_lot, SOWN);
    count_three(&batch, 25, COUNTED);
    struct cot_check_batch c = check(&batch);
    ck_assert(c.compared && c.low.low);
    ck_assert_int_eq(c.points, COT_POINTS_NONE); /* neither was counted */
    cot_check_batch_free(&c);
    count_three(&again, 25, COUNTED - 5);
    count_three(&beside, 64, COUNTED);
    c = check(&batch);
    ck_assert_int_eq(c.points, COT_POINTS_SEED);
    ck_assert(c.lot_batches == 1 && c.day_batches == 1);
    cot_check_batch_free(&c);
    c = check(&beside); /* fine: no cause is looked for */
    ck_assert(c.compared && !c.low.low && c.lot_batches == 0);
    cot_check_batch_free(&c);
}
END_TEST

START_TEST(the_house)
{
    struct cot_id again = sow(&lot, SOWN - 5), other_lot, beside, twin = sow(&lot, SOWN);
    start_lot(&s, "RH-2", &variety, 380);
    other_lot = *done(&s);
    beside = sow(&other_lot, SOWN);
    count_three(&batch, 25, COUNTED);
    count_three(&twin, 25, COUNTED); /* the same lot on the same day tells nothing of the two apart */
    struct cot_check_batch c = check(&batch);
    ck_assert_int_eq(c.points, COT_POINTS_NONE);
    cot_check_batch_free(&c);
    count_three(&again, 64, COUNTED - 5);
    count_three(&beside, 25, COUNTED);
    c = check(&batch);
    ck_assert_int_eq(c.points, COT_POINTS_HOUSE);
    ck_assert(c.lot_batches == 1 && c.day_batches == 1);
    cot_check_batch_free(&c);
}
END_TEST

/* --- Lots ----------------------------------------------------------------------------------------------------------
 */
static struct cot_check_lot check_lot(const struct cot_id *id)
{
    struct cot_check_lot out;
    const struct cot_thing *t = thing(id);
    ck_assert_int_eq(cot_check_lot(book, t, &out), COT_OK);
    return out;
}

START_TEST(a_test_alone)
{
    struct cot_check_lot c = check_lot(&lot);
    ck_assert(!c.has_range && !c.has_label && !c.has_before);
    ck_assert(c.test.seeds == 400 && c.test.germinated == 380);
    ck_assert_double_eq(c.test.percent, 95);
    ck_assert_int_eq(cot_check_lot(book, cot_book_thing(book, &batch), &c), COT_NOT_FOUND);
}
END_TEST

START_TEST(replicates_and_label)
{
    struct cot_id wide;
    start_lot(&s, "RH-3", &variety, 380);
    name(&s, COT_F_REPLICATES, "99 99 99 83");
    say(&s, COT_F_LABEL_GERM, 880);
    wide = *done(&s);
    struct cot_check_lot c = check_lot(&wide);
    ck_assert(c.has_range && c.has_label);
    ck_assert_int_eq(c.range.most, 9);
    ck_assert_int_eq(c.range.verdict, COT_RANGE_RETEST);
    ck_assert_double_eq(c.label.mean, 91.5);
    ck_assert_int_eq(c.label.most, 6);
    ck_assert(!c.label.within && c.label.difference == 7);
    ck_assert_str_eq(c.misfit, "");
    make(&s, COT_K_LOT); /* a new test, the replicates of the old one left standing */
    about(&s, &wide);
    say(&s, COT_F_TEST_GERM, 370);
    done(&s);
    c = check_lot(&wide);
    ck_assert(!c.has_range && c.has_label);
    ck_assert_str_eq(c.misfit, "replicates: they make 380 germinated, but the test says 370");
}
END_TEST

START_TEST(a_test_after_another)
{
    make(&s, COT_K_LOT);
    about(&s, &lot);
    say(&s, COT_F_TEST_GERM, 340);
    say(&s, COT_F_TEST_DAY, SOWN + 1);
    done(&s);
    struct cot_check_lot c = check_lot(&lot);
    ck_assert(c.has_before && c.earlier.germinated == 380 && c.test.germinated == 340);
    ck_assert_int_eq(c.earlier_day, COT_DAY_NONE);
    ck_assert_double_eq(c.before.difference, -10);
    ck_assert_int_eq(c.before.most, 6); /* mean 90 */
    ck_assert(!c.before.within);
}
END_TEST

static void add(Suite *suite, const char *name_of, const TTest *test)
{
    TCase *c = tcase_create(name_of);
    tcase_set_timeout(c, 60);
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, test);
    suite_add_tcase(suite, c);
}

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/check/batch");
    add(suite, "not_counted", not_counted);
    add(suite, "as_expected", as_expected);
    add(suite, "unlike", one_tray_unlike);
    add(suite, "left_out", what_is_left_out);
    add(suite, "taken", after_plants_left);
    add(suite, "early", early_counts);
    add(suite, "pooled", pooled_counts);
    add(suite, "seed", the_seed);
    add(suite, "house", the_house);
    add(suite, "lot", a_test_alone);
    add(suite, "replicates", replicates_and_label);
    add(suite, "before", a_test_after_another);
    return suite;
}
