/* server/core/house/planned.c: a planned sowing against what was sown. */
#include "cotyledger/core/planned.h"
#include "../season.h"

#define DAY 20906

static struct season s;
static struct cot_book *book;
static struct cot_id lot, other_lot, format, planned;

static struct cot_id plan(int trays, int rows)
{
    make(&s, COT_K_PLANNED);
    new_code(&s);
    point(&s, COT_F_LOT, &lot);
    point(&s, COT_F_FORMAT, &format);
    if (trays) say(&s, COT_F_TRAYS, trays);
    if (rows) say(&s, COT_F_TRAY_ROWS, rows);
    if (rows) name(&s, COT_F_SHARED, "mixed");
    say(&s, COT_F_SOW_DAY, DAY);
    name(&s, COT_F_PINS, "sow_day trays");
    return *done(&s);
}

static void setup(void)
{
    season_new(&s, 1);
    struct cot_id crop = add_crop(&s, "Lettuce", 28, 35), variety = add_variety(&s, "Red Harbour", &crop);
    format = add_format(&s, "128", 8, 16);
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    start_lot(&s, "RH-2", &variety, 372);
    other_lot = *done(&s);
    planned = plan(6, 0);
    book = NULL;
}

static void teardown(void)
{
    cot_book_free(book);
    season_free(&s);
}

static struct cot_planned_done of(const struct cot_id *id, int32_t on)
{
    struct cot_planned_done d;
    cot_book_free(book);
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_planned_read(book, cot_book_thing(book, id), on, &d), COT_OK);
    return d;
}

static struct cot_id sow(const struct cot_id *from, int trays, int32_t day)
{
    start_sown(&s, from, &format, trays, day);
    point(&s, COT_F_PLANNED, &planned);
    return *done(&s);
}

START_TEST(nothing_sown)
{
    struct cot_planned_done d = of(&planned, DAY - 3);
    ck_assert(d.state == COT_PLANNED_TO_COME && d.planned == 6 && d.sown == 0 && d.late == 0 && d.batches == 0);
    ck_assert(d.first == COT_DAY_NONE && d.last == COT_DAY_NONE && !d.rows && !d.other);
    ck_assert_int_eq(of(&planned, DAY).state, COT_PLANNED_TO_COME);
    d = of(&planned, DAY + 2);
    ck_assert(d.state == COT_PLANNED_LATE && d.late == 2);
}
END_TEST

START_TEST(early_late_more_fewer)
{
    struct cot_id first = sow(&lot, 4, DAY - 1);
    struct cot_planned_done d = of(&planned, DAY + 5);
    ck_assert(d.state == COT_PLANNED_PART && d.sown == 4 && d.late == -1 && d.batches == 1);
    sow(&lot, 3, DAY + 4);
    d = of(&planned, DAY + 3); /* the second is still to come */
    ck_assert(d.state == COT_PLANNED_PART && d.sown == 4);
    d = of(&planned, DAY + 5);
    ck_assert(d.state == COT_PLANNED_DONE && d.sown == 7 && d.first == DAY - 1 && d.last == DAY + 4);
    make(&s, COT_K_TAKEN_BACK);
    about(&s, &first);
    done(&s);
    d = of(&planned, DAY + 5);
    ck_assert(d.state == COT_PLANNED_PART && d.sown == 3 && d.late == 4);
}
END_TEST

START_TEST(another_lot)
{
    sow(&other_lot, 6, DAY);
    struct cot_planned_done d = of(&planned, DAY);
    ck_assert(d.state == COT_PLANNED_DONE && d.other && d.late == 0);
}
END_TEST

START_TEST(rows_of_a_shared_tray)
{
    planned = plan(0, 4);
    struct cot_planned_done d = of(&planned, DAY);
    ck_assert(d.rows && d.planned == 4);
    start_sown(&s, &lot, &format, 1, DAY);
    ck_assert_ptr_nonnull(cot_fact_value(&s.next, COT_F_TRAYS));
    point(&s, COT_F_PLANNED, &planned);
    done(&s);
    d = of(&planned, DAY);
    ck_assert(d.sown == 0 && d.batches == 1 && d.state == COT_PLANNED_PART);
}
END_TEST

/* Dropped, it is still found; taking the dropping back brings it back; what was sown for it stands whatever becomes of
 * it. */
START_TEST(dropped)
{
    make(&s, COT_K_DROPPED);
    about(&s, &planned);
    struct cot_id drop = *done(&s);
    struct cot_planned_done d = of(&planned, DAY);
    ck_assert_int_eq(d.state, COT_PLANNED_DROPPED);
    ck_assert(cot_book_thing(book, &planned)->gone);
    size_t n;
    ck_assert_ptr_nonnull(cot_book_things(book, COT_THING_PLANNED, &n));
    make(&s, COT_K_TAKEN_BACK);
    about(&s, &drop);
    done(&s);
    ck_assert_int_eq(of(&planned, DAY).state, COT_PLANNED_TO_COME);
    ck_assert(!cot_book_thing(book, &planned)->gone);
}
END_TEST

START_TEST(a_sowing_stands_without_its_plan)
{
    struct cot_id batch = sow(&lot, 6, DAY), nowhere = season_id(&s);
    make(&s, COT_K_TAKEN_BACK);
    about(&s, &planned);
    done(&s);
    start_sown(&s, &lot, &format, 2, DAY);
    point(&s, COT_F_PLANNED, &nowhere);
    struct cot_id second = *done(&s);
    book = season_book(&s, NULL); /* which refuses a queried row */
    ck_assert(!cot_book_thing(book, &batch)->gone);
    ck_assert(!cot_book_thing(book, &second)->gone);
}
END_TEST

START_TEST(pins)
{
    book = season_book(&s, NULL);
    const struct cot_thing *t = cot_book_thing(book, &planned);
    ck_assert(cot_pinned(t, COT_F_SOW_DAY) && cot_pinned(t, COT_F_TRAYS));
    ck_assert(!cot_pinned(t, COT_F_DAY) && !cot_pinned(t, COT_F_LOT) && !cot_pinned(t, COT_F_TRAY_ROWS));
    ck_assert(!cot_pinned(cot_book_thing(book, &lot), COT_F_LOT));
    struct cot_planned_done d;
    ck_assert_int_eq(cot_planned_read(book, cot_book_thing(book, &lot), DAY, &d), COT_NOT_FOUND);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("house_planned");
    TCase *t = tcase_create("planned");
    tcase_add_checked_fixture(t, setup, teardown);
    tcase_add_test(t, nothing_sown);
    tcase_add_test(t, early_late_more_fewer);
    tcase_add_test(t, another_lot);
    tcase_add_test(t, rows_of_a_shared_tray);
    tcase_add_test(t, dropped);
    tcase_add_test(t, a_sowing_stands_without_its_plan);
    tcase_add_test(t, pins);
    suite_add_tcase(suite, t);
    return suite;
}
