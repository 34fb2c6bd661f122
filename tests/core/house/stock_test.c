/* server/core/house/stock.c: the latest count of each thing on hand. */
#include "cotyledger/core/stock.h"
#include "../season.h"

static struct season s;
static struct cot_book *book;
static struct cot_stock *list;
static size_t n;
static struct cot_id f128, f72;

static void setup(void)
{
    season_new(&s, 1);
    f128 = add_format(&s, "128", 8, 16);
    f72 = add_format(&s, "072", 6, 12);
    book = NULL;
    list = NULL;
}

static void read_stock(int32_t on)
{
    free(list);
    cot_book_free(book);
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_stock_read(book, on, &list, &n), COT_OK);
}

static void teardown(void)
{
    free(list);
    cot_book_free(book);
    season_free(&s);
}

static struct cot_id count(enum cot_field f, const struct cot_id *format, int amount, int32_t day)
{
    make(&s, COT_K_STOCK);
    say(&s, f, amount);
    if (format) point(&s, COT_F_FORMAT, format);
    say(&s, COT_F_DAY, day);
    return *done(&s);
}

START_TEST(nothing_counted)
{
    read_stock(20900);
    ck_assert_uint_eq(n, 0);
    ck_assert_ptr_null(list);
}
END_TEST

START_TEST(latest_of_each)
{
    count(COT_F_TRAYS, &f128, 400, 20800);
    count(COT_F_MIX_L, NULL, 1200, 20810);
    count(COT_F_TRAYS, &f72, 90, 20805);
    count(COT_F_MIX_L, NULL, 300, 20809); /* written later, of a day before */
    count(COT_F_LABELS, NULL, 0, 20811);
    count(COT_F_TRAYS, &f128, 350, 20812);
    read_stock(20812);
    ck_assert_uint_eq(n, 4);
    ck_assert(list[0].what == COT_STOCK_MIX && list[0].amount == 1200 && list[0].day == 20810);
    ck_assert(list[1].what == COT_STOCK_LABELS && list[1].amount == 0);
    ck_assert(list[2].what == COT_STOCK_TRAYS && list[2].amount == 90);
    ck_assert(list[3].amount == 350 && cot_id_cmp(&list[3].format->id, &f128) == 0);
    read_stock(20811);
    ck_assert_int_eq(list[3].amount, 400);
    read_stock(20799);
    ck_assert_uint_eq(n, 0);
}
END_TEST

/* Of one day the later entry stands; one that was taken back does not. */
START_TEST(same_day)
{
    count(COT_F_MIX_L, NULL, 1200, 20810);
    struct cot_id second = count(COT_F_MIX_L, NULL, 1100, 20810);
    read_stock(20810);
    ck_assert_int_eq(list[0].amount, 1100);
    ck_assert(cot_id_cmp(&list[0].entry, &second) == 0);
    make(&s, COT_K_TAKEN_BACK);
    about(&s, &second);
    done(&s);
    read_stock(20810);
    ck_assert_uint_eq(n, 1);
    ck_assert_int_eq(list[0].amount, 1200);
}
END_TEST

START_TEST(units)
{
    ck_assert_str_eq(cot_stock_unit(COT_STOCK_MIX), "L");
    ck_assert_str_eq(cot_stock_unit(COT_STOCK_LABELS), "labels");
    ck_assert_str_eq(cot_stock_unit(COT_STOCK_TRAYS), "trays");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("house_stock");
    TCase *t = tcase_create("stock");
    tcase_add_checked_fixture(t, setup, teardown);
    tcase_add_test(t, nothing_counted);
    tcase_add_test(t, latest_of_each);
    tcase_add_test(t, same_day);
    tcase_add_test(t, units);
    suite_add_tcase(suite, t);
    return suite;
}
