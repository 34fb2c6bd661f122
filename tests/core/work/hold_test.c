/* server/core/work/hold.c: what is kept for a farm that cannot plant yet, until when it is fit, who else wants it. */
#include "cotyledger/core/hold.h"
#include "../season.h"
#include "../seed.h"

#define MONDAY 20906 /* 2027-03-29 */

static struct season s;
static struct cot_book *book;
static struct cot_hold hold;
static struct cot_id crop, variety, format, farm, other, lot, batch, line, rival;

static struct cot_id order(const struct cot_id *of, int plants, int32_t date)
{
    start_line(&s, of, &variety, plants, date);
    point(&s, COT_F_FORMAT, &format);
    struct cot_id l = *done(&s);
    promise(&s, &l, of, plants);
    return l;
}

/* Six trays give some 700 plants, ready on the 28th day and past use after the 42nd; two lines of 500 want them. */
static void setup(void)
{
    season_new(&s, 1);
    crop = add_crop(&s, "Lettuce", 28, 42);
    variety = add_variety(&s, "Red Harbour", &crop);
    format = add_format(&s, "128", 8, 16);
    farm = add_named(&s, COT_K_FARM, "Alder Ford");
    other = add_named(&s, COT_K_FARM, "Weir Hill");
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    start_sown(&s, &lot, &format, 6, MONDAY);
    name(&s, COT_F_BENCH, "bench 1");
    batch = *done(&s);
    line = order(&farm, 500, MONDAY + 30);
    rival = order(&other, 500, MONDAY + 31);
    book = season_book(&s, NULL);
}

static void teardown(void)
{
    cot_book_free(book);
    season_free(&s);
}

static void read_hold(int32_t until)
{
    struct cot_fault fault = {0};
    enum cot_err err = cot_hold_read(book, MONDAY, cot_book_thing(book, &line), until, &hold, &fault);
    ck_assert_msg(err == COT_OK, "%s", fault.msg);
}

START_TEST(kept_while_fit)
{
    read_hold(MONDAY + 40);
    ck_assert_int_eq(hold.date, MONDAY + 30);
    ck_assert_int_eq(hold.plants, 500);
    ck_assert_int_eq(hold.kept, 500);
    ck_assert_int_eq(hold.parts, 1);
    ck_assert_int_eq(cot_id_cmp(&hold.part[0].batch->id, &batch), 0);
    ck_assert_int_eq(hold.part[0].plants, 500);
    ck_assert(hold.part[0].trays == 5 && hold.part[0].spots == 5); /* 500 of about 690 plants in six trays */
    ck_assert_str_eq(hold.part[0].bench, "bench 1");
    ck_assert_int_eq(hold.part[0].fit, MONDAY + 42);
}
END_TEST

START_TEST(too_old_by_then)
{
    read_hold(MONDAY + 43);
    ck_assert_int_eq(hold.plants, 500);
    ck_assert_int_eq(hold.kept, 0);
    ck_assert_int_eq(hold.part[0].fit, MONDAY + 42);
}
END_TEST

/* The other farm lacks what the batch cannot give both. */
START_TEST(who_else)
{
    read_hold(MONDAY + 40);
    ck_assert_int_eq(hold.takers, 1);
    ck_assert_int_eq(cot_id_cmp(&hold.taker[0].line->id, &rival), 0);
    ck_assert(hold.taker[0].plants > 250 && hold.taker[0].plants <= 500);
}
END_TEST

/* As the hold stands in the book it says the same; promised for another day, it counts from that one. */
START_TEST(recorded)
{
    make(&s, COT_K_LINE);
    of_farm(&s, &farm);
    about(&s, &line);
    say(&s, COT_F_WAIT_UNTIL, MONDAY + 40);
    done(&s);
    cot_book_free(book);
    book = season_book(&s, NULL);
    struct cot_fill fill;
    ck_assert_int_eq(cot_fill_read(book, MONDAY, &fill), COT_OK);
    ck_assert_int_eq(cot_fill_line_of(&fill, &line)->date, MONDAY + 40);
    ck_assert_int_eq(cot_fill_line_of(&fill, &line)->asked, MONDAY + 30);
    cot_fill_free(&fill);
    read_hold(MONDAY + 40);
    ck_assert(hold.date == MONDAY + 30 && hold.plants == 500 && hold.kept == 500 && hold.takers == 1);
    make(&s, COT_K_PROMISE);
    of_farm(&s, &farm);
    about(&s, &line);
    say(&s, COT_F_PLANTS, 500);
    say(&s, COT_F_DATE, MONDAY + 33);
    done(&s);
    cot_book_free(book);
    book = season_book(&s, NULL);
    read_hold(MONDAY + 40);
    ck_assert_int_eq(hold.date, MONDAY + 33);
}
END_TEST

START_TEST(no_line)
{
    ck_assert_int_eq(cot_hold_read(book, MONDAY, cot_book_thing(book, &batch), MONDAY + 40, &hold, NULL), COT_INVALID);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/work/hold");
    TCase *c = tcase_create("hold");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_set_timeout(c, 60);
    tcase_add_test(c, kept_while_fit);
    tcase_add_test(c, too_old_by_then);
    tcase_add_test(c, who_else);
    tcase_add_test(c, recorded);
    tcase_add_test(c, no_line);
    suite_add_tcase(suite, c);
    return suite;
}
