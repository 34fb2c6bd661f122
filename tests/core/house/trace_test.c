/* server/core/house/trace.c: a lot to every batch and farm, and back. */
#include "cotyledger/core/trace.h"
#include "../season.h"

#define DAY 20906

static struct season s;
static struct cot_book *book;
static struct cot_trace trace;
static struct cot_id lot, other, farm, second, line, line2, sown, potted, elsewhere, handed;

static struct cot_id pot_on(const struct cot_id *from, const struct cot_id *format, int plants)
{
    make(&s, COT_K_POTTED);
    new_code(&s);
    point(&s, COT_F_BATCH, from);
    point(&s, COT_F_FORMAT, format);
    say(&s, COT_F_TRAYS, 2);
    say(&s, COT_F_PLANTS, plants);
    say(&s, COT_F_DAY, DAY + 20);
    return *done(&s);
}

static struct cot_id order(const struct cot_id *of, const struct cot_id *variety)
{
    start_line(&s, of, variety, 100, DAY + 40);
    struct cot_id id = *done(&s);
    promise(&s, &id, of, 100);
    return id;
}

/* Two lots of a variety; one sown, potted on, and handed to two farms from both batches; the other sown alone. */
static void setup(void)
{
    season_new(&s, 1);
    struct cot_id crop = add_crop(&s, "Lettuce", 28, 60), variety = add_variety(&s, "Red Harbour", &crop);
    struct cot_id format = add_format(&s, "128", 8, 16), large = add_format(&s, "50", 5, 10);
    farm = add_named(&s, COT_K_FARM, "Alder Ford");
    second = add_named(&s, COT_K_FARM, "Weir Hill");
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    start_lot(&s, "RH-2", &variety, 372);
    other = *done(&s);
    start_sown(&s, &lot, &format, 6, DAY);
    sown = *done(&s);
    start_sown(&s, &other, &format, 2, DAY);
    elsewhere = *done(&s);
    potted = pot_on(&sown, &large, 96);
    line = order(&farm, &variety);
    line2 = order(&second, &variety);
    handed = hand_over(&s, &line, &farm, &potted, 60, DAY + 40);
    hand_over(&s, &line2, &second, &sown, 100, DAY + 41);
    book = season_book(&s, NULL);
    trace = (struct cot_trace){0};
}

static void teardown(void)
{
    cot_trace_free(&trace);
    cot_book_free(book);
    season_free(&s);
}

static void read_trace(const struct cot_id *of, int32_t on)
{
    cot_trace_free(&trace);
    ck_assert_int_eq(cot_trace_read(book, cot_book_thing(book, of), on, &trace, NULL), COT_OK);
}

static size_t rows(enum cot_trace_what what, const struct cot_id *batch)
{
    size_t n = 0;
    for (size_t i = 0; i < trace.rows; i++)
        n += trace.row[i].what == what && (!batch || cot_id_cmp(&trace.row[i].batch->id, batch) == 0);
    return n;
}

START_TEST(from_a_lot)
{
    read_trace(&lot, DAY + 50);
    ck_assert(rows(COT_TRACE_SOWN, NULL) == 1 && rows(COT_TRACE_SOWN, &sown) == 1);
    ck_assert(rows(COT_TRACE_POTTED, NULL) == 1 && rows(COT_TRACE_POTTED, &potted) == 1);
    ck_assert(rows(COT_TRACE_HANDED, &potted) == 1 && rows(COT_TRACE_HANDED, &sown) == 1);
    ck_assert_uint_eq(rows(COT_TRACE_STANDS, NULL), 2);
    ck_assert_uint_eq(trace.lots, 1);
    for (size_t i = 0; i < trace.rows; i++) ck_assert_int_eq(cot_id_cmp(&trace.row[i].lot->id, &lot), 0);
    read_trace(&lot, DAY + 30); /* before anything went out */
    ck_assert_uint_eq(rows(COT_TRACE_HANDED, NULL), 0);
    read_trace(&other, DAY + 50);
    ck_assert_uint_eq(rows(COT_TRACE_SOWN, &elsewhere), 1);
    ck_assert_uint_eq(rows(COT_TRACE_HANDED, NULL), 0);
}
END_TEST

START_TEST(from_a_batch_both_ways)
{
    read_trace(&potted, DAY + 50);
    ck_assert(rows(COT_TRACE_SOWN, &sown) == 1 && rows(COT_TRACE_POTTED, &potted) == 1);
    ck_assert_uint_eq(rows(COT_TRACE_SOWN, &elsewhere), 0);
}
END_TEST

START_TEST(back_from_a_farm)
{
    const struct cot_id *of[] = {&farm, &line, &handed};
    for (int i = 0; i < 3; i++) {
        read_trace(of[i], DAY + 50);
        ck_assert(rows(COT_TRACE_HANDED, NULL) == 1 && rows(COT_TRACE_HANDED, &potted) == 1);
        ck_assert(rows(COT_TRACE_POTTED, &potted) == 1 && rows(COT_TRACE_SOWN, &sown) == 1);
        ck_assert_uint_eq(rows(COT_TRACE_STANDS, NULL), 0);
        ck_assert_int_eq(cot_id_cmp(&trace.lot[0]->id, &lot), 0);
    }
    read_trace(&second, DAY + 50);
    ck_assert(rows(COT_TRACE_HANDED, &sown) == 1 && rows(COT_TRACE_POTTED, NULL) == 0);
}
END_TEST

START_TEST(what_cannot_be_traced)
{
    struct cot_fault fault = {0};
    size_t n;
    const struct cot_thing *crop = cot_book_things(book, COT_THING_CROP, &n)[0];
    ck_assert_int_eq(cot_trace_read(book, crop, DAY, &trace, &fault), COT_INVALID);
    ck_assert_str_eq(fault.msg, "a crop cannot be traced");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/house/trace");
    TCase *c = tcase_create("trace");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, from_a_lot);
    tcase_add_test(c, from_a_batch_both_ways);
    tcase_add_test(c, back_from_a_farm);
    tcase_add_test(c, what_cannot_be_traced);
    suite_add_tcase(suite, c);
    return suite;
}
