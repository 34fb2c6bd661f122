/* server/core/house/days.c: working days, closed days, places out of use. */
#include "cotyledger/core/place.h"
#include "../season.h"

#define MONDAY 20906 /* 2027-03-29 */

static struct season s;
static struct cot_book *book;
static struct cot_days days;
static struct cot_id bench, chamber;

static struct cot_id add_place(const char *text, int from, int until)
{
    make(&s, COT_K_PLACE);
    name(&s, COT_F_NAME, text);
    say(&s, COT_F_SORT, COT_PLACE_BENCH);
    say(&s, COT_F_SPOTS, 40);
    if (from) say(&s, COT_F_FROM, from);
    if (until) say(&s, COT_F_UNTIL, until);
    return *done(&s);
}

static struct cot_id shut(const struct cot_id *place, int from, int until)
{
    make(&s, COT_K_SHUT);
    if (place) about(&s, place);
    say(&s, COT_F_FROM, from);
    if (until) say(&s, COT_F_UNTIL, until);
    name(&s, COT_F_WHY, place ? "new heating" : "holiday");
    return *done(&s);
}

static void take_back(const struct cot_id *entry)
{
    make(&s, COT_K_TAKEN_BACK);
    about(&s, entry);
    done(&s);
}

static void read_days(void)
{
    cot_days_free(&days);
    cot_book_free(book);
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_days_read(book, &days), COT_OK);
}

static void setup(void)
{
    season_new(&s, 1);
    bench = add_place("bench 3", MONDAY, MONDAY + 60);
    chamber = add_place("chamber", 0, 0);
    book = NULL;
    days = (struct cot_days){0};
}

static void teardown(void)
{
    cot_days_free(&days);
    cot_book_free(book);
    season_free(&s);
}

START_TEST(monday_to_friday_when_nobody_says)
{
    read_days();
    ck_assert(!days.said);
    for (int i = 0; i < 14; i++) ck_assert_int_eq(cot_working_day(&days, MONDAY + i), i % 7 < 5);
    ck_assert(!cot_working_day(&days, COT_DAY_MIN - 1));
    ck_assert(!cot_working_day(&days, COT_DAY_NONE));
}
END_TEST

START_TEST(the_house_says_its_days)
{
    static const int32_t list[] = {2, 4, 6};
    make(&s, COT_K_RULE);
    ck_assert(cot_fact_set_numbers(&s.next, COT_F_WORK_DAYS, list, 3));
    season_put(&s, true, true);
    read_days();
    ck_assert(days.said);
    for (int i = 0; i < 7; i++) ck_assert_int_eq(cot_working_day(&days, MONDAY + i), i == 1 || i == 3 || i == 5);
    ck_assert_int_eq(cot_working_before(&days, MONDAY), MONDAY - 2);
    ck_assert_int_eq(cot_working_after(&days, MONDAY), MONDAY + 1);
    ck_assert_int_eq(cot_working_after(&days, MONDAY + 1), MONDAY + 1);
}
END_TEST

/* Both ends included; one day where no last is named; a closed house leaves its places standing. */
START_TEST(closed_days)
{
    struct cot_id easter = shut(NULL, MONDAY, 0), week = shut(NULL, MONDAY + 7, MONDAY + 11);
    read_days();
    ck_assert_uint_eq(days.closings, 2);
    ck_assert(!cot_working_day(&days, MONDAY) && cot_working_day(&days, MONDAY + 1));
    for (int i = 7; i <= 11; i++) ck_assert(!cot_working_day(&days, MONDAY + i));
    ck_assert(cot_working_day(&days, MONDAY + 14));
    ck_assert_int_eq(cot_working_before(&days, MONDAY + 10), MONDAY + 4);
    ck_assert_int_eq(cot_working_after(&days, MONDAY + 7), MONDAY + 14);
    ck_assert(cot_place_open(&days, cot_book_thing(book, &chamber), MONDAY));
    ck_assert_str_eq(cot_closed_by(&days, NULL, MONDAY + 9)->why, "holiday");
    take_back(&easter);
    take_back(&week);
    read_days();
    ck_assert_uint_eq(days.closings, 0);
    ck_assert(cot_working_day(&days, MONDAY) && cot_working_day(&days, MONDAY + 9));
}
END_TEST

START_TEST(places_have_days_of_their_own)
{
    shut(&bench, MONDAY + 10, MONDAY + 20);
    read_days();
    const struct cot_thing *b = cot_book_thing(book, &bench), *c = cot_book_thing(book, &chamber);
    ck_assert(!cot_place_open(&days, b, MONDAY - 1) && cot_place_open(&days, b, MONDAY));
    ck_assert(cot_place_open(&days, b, MONDAY + 9) && !cot_place_open(&days, b, MONDAY + 10));
    ck_assert(!cot_place_open(&days, b, MONDAY + 20) && cot_place_open(&days, b, MONDAY + 21));
    ck_assert(cot_place_open(&days, b, MONDAY + 60) && !cot_place_open(&days, b, MONDAY + 61));
    for (int i = -400; i < 400; i += 7) ck_assert(cot_place_open(&days, c, MONDAY + i));
    ck_assert(cot_working_day(&days, MONDAY + 10)); /* one bench shut is no closed house */
}
END_TEST

/* A closing of a place that was taken back is no closing, and not one of the house. */
START_TEST(places_taken_back)
{
    read_days(); /* the closing comes after */
    shut(&bench, MONDAY, MONDAY + 4);
    take_back(&bench);
    cot_days_free(&days);
    cot_book_free(book);
    book = cot_book_new(NULL);
    for (size_t i = 0; i < s.rows; i++) ck_assert_int_eq(cot_book_put(book, &s.row[i]), COT_OK);
    ck_assert_int_eq(cot_days_read(book, &days), COT_OK);
    ck_assert_uint_eq(days.closings, 0);
    ck_assert(cot_working_day(&days, MONDAY));
    ck_assert(!cot_place_open(&days, cot_book_thing(book, &bench), MONDAY));
}
END_TEST

/* A house that never works again: said, not looked for without end. */
START_TEST(no_working_day_at_all)
{
    shut(NULL, MONDAY, MONDAY + 1000);
    read_days();
    ck_assert_int_eq(cot_working_after(&days, MONDAY), COT_DAY_NONE);
    ck_assert_int_eq(cot_working_before(&days, MONDAY + 999), COT_DAY_NONE);
    ck_assert_int_eq(cot_working_after(&days, MONDAY + 700), MONDAY + 1001);
    ck_assert_int_eq(cot_working_after(&days, COT_DAY_NONE), COT_DAY_NONE);
    ck_assert_int_eq(cot_working_after(&days, COT_DAY_MAX + 1), COT_DAY_NONE);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("house_days");
    TCase *t = tcase_create("days");
    tcase_add_checked_fixture(t, setup, teardown);
    tcase_add_test(t, monday_to_friday_when_nobody_says);
    tcase_add_test(t, the_house_says_its_days);
    tcase_add_test(t, closed_days);
    tcase_add_test(t, places_have_days_of_their_own);
    tcase_add_test(t, places_taken_back);
    tcase_add_test(t, no_working_day_at_all);
    suite_add_tcase(suite, t);
    return suite;
}
