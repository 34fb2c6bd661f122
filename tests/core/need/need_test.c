/* server/core/need/need.c: what planned sowings take, against trays and seeds of which published figures are known. */
#include "cotyledger/core/need.h"
#include "../season.h"
#include "cotyledger/core/remedy.h"
#include "cotyledger/core/sow.h"

#define MONDAY 20906 /* 2027-03-29, W13 */

static struct season s;
static struct cot_book *book;
static struct cot_needs needs;
static struct cot_id crop, variety, f72, f288, lot;

static struct cot_id tray(const char *text, int rows, int cols, int cell_ul)
{
    make(&s, COT_K_FORMAT);
    name(&s, COT_F_NAME, text);
    say(&s, COT_F_ROWS, rows);
    say(&s, COT_F_COLS, cols);
    if (cell_ul) say(&s, COT_F_CELL_UL, cell_ul);
    return *done(&s);
}

static void setup(void)
{
    season_new(&s, 1);
    start_crop(&s, "Tomato", 42, 56);
    say(&s, COT_F_SEEDS_PER_G, 405);
    crop = *done(&s);
    variety = add_variety(&s, "Kiln Red", &crop);
    f72 = tray("72", 6, 12, 58900);
    f288 = tray("288", 12, 24, 0);
    start_lot(&s, "KR-1", &variety, 372);
    say(&s, COT_F_STOCK_SEEDS, 1000);
    lot = *done(&s);
    book = NULL;
    needs = (struct cot_needs){0};
}

static void teardown(void)
{
    cot_needs_free(&needs);
    cot_book_free(book);
    season_free(&s);
}

static void plan_sowing(const struct cot_id *format, int trays, int32_t day)
{
    make(&s, COT_K_PLANNED);
    new_code(&s);
    point(&s, COT_F_LOT, &lot);
    point(&s, COT_F_FORMAT, format);
    say(&s, COT_F_TRAYS, trays);
    say(&s, COT_F_SOW_DAY, day);
    done(&s);
}

static void on_hand(enum cot_field f, int amount, const struct cot_id *format)
{
    make(&s, COT_K_STOCK);
    say(&s, COT_F_DAY, MONDAY - 1);
    say(&s, f, amount);
    if (format) point(&s, COT_F_FORMAT, format);
    done(&s);
}

static void read_needs(int32_t from, int32_t to)
{
    cot_needs_free(&needs);
    cot_book_free(book);
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_needs_read(book, from, to, &needs, NULL), COT_OK);
}

static const struct cot_need_item *item(enum cot_need_what what)
{
    for (size_t i = 0; i < needs.items; i++)
        if (needs.item[i].what == what) return &needs.item[i];
    ck_abort_msg("nothing of it");
    return NULL;
}

/* 72 cells of 58.9 mL hold 4.24 L (common practice, two trade pages, no published source), a fifth more is 5.09 L. Ten
 * trays of them take 720 tomato seeds by hand, 1.78 g at 405 seeds a gram (7 CFR 201.46, table 1). */
START_TEST(a_sowing)
{
    plan_sowing(&f72, 10, MONDAY + 1);
    read_needs(MONDAY, MONDAY + 6);
    ck_assert_int_eq(cot_need_mix_ul(72, 58900), 5088960);
    ck_assert_uint_eq(needs.weeks, 1);
    const struct cot_need_week *w = &needs.week[0];
    ck_assert(w->monday == MONDAY && w->sowings == 1 && w->trays == 10 && w->labels == 10);
    ck_assert_int_eq(w->mix_ul, 50889600);
    ck_assert_int_eq(w->seeds, 720);
    ck_assert_int_eq(w->minutes, COT_MINUTES_SOWING + 10 * COT_MINUTES_TRAY);
    const struct cot_need_item *seed = item(COT_NEED_SEED);
    ck_assert(seed->need == 720 && seed->on_hand == 1000 && seed->short_on == COT_DAY_NONE);
    ck_assert_int_eq(seed->mg, 1778);
    ck_assert_int_eq(item(COT_NEED_MIX)->on_hand, -1);
}
END_TEST

/* The second sowing takes more than is left: short from its day. What is sown is needed no more. */
/* Of a sowing begun the rest is needed; minutes are the house's own where it says them. */
START_TEST(what_is_left_of_it)
{
    make(&s, COT_K_PLANNED);
    new_code(&s);
    point(&s, COT_F_LOT, &lot);
    point(&s, COT_F_FORMAT, &f72);
    say(&s, COT_F_TRAYS, 10);
    say(&s, COT_F_SOW_DAY, MONDAY);
    struct cot_id planned = *done(&s);
    start_sown(&s, &lot, &f72, 4, MONDAY);
    point(&s, COT_F_PLANNED, &planned);
    done(&s);
    make(&s, COT_K_RULE);
    about(&s, &s.row[0].digest);
    say(&s, COT_F_SOWING_MINUTES, 10);
    say(&s, COT_F_TRAY_MINUTES, 3);
    season_put(&s, true, true);
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_needs_read(book, MONDAY, MONDAY + 30, &needs, NULL), COT_OK);
    ck_assert_uint_eq(needs.weeks, 1);
    ck_assert(needs.week[0].trays == 6 && needs.week[0].seeds == 6 * 72 && needs.week[0].minutes == 10 + 6 * 3);
}
END_TEST

START_TEST(runs_short)
{
    on_hand(COT_F_MIX_L, 60, NULL);
    on_hand(COT_F_TRAYS, 20, &f72);
    plan_sowing(&f72, 10, MONDAY + 1);
    plan_sowing(&f72, 9, MONDAY + 8);
    read_needs(MONDAY, COT_DAY_MAX);
    ck_assert_uint_eq(needs.weeks, 2);
    ck_assert_int_eq(item(COT_NEED_SEED)->short_on, MONDAY + 8);
    ck_assert_int_eq(item(COT_NEED_MIX)->short_on, MONDAY + 8);
    ck_assert_int_eq(item(COT_NEED_MIX)->on_hand, 60000000);
    ck_assert_int_eq(item(COT_NEED_TRAYS)->short_on, COT_DAY_NONE);
    read_needs(MONDAY, MONDAY + 6);
    ck_assert_int_eq(item(COT_NEED_SEED)->short_on, COT_DAY_NONE);
    read_needs(MONDAY + 9, COT_DAY_MAX); /* late ones count as of the first day */
    ck_assert_uint_eq(needs.weeks, 1);
    ck_assert_int_eq(needs.week[0].trays, 19);
}
END_TEST

/* Potted on after three weeks: larger trays for the plants that are likely, and mix in that week; a format without a
 * cell volume is said. */
START_TEST(potted_on)
{
    make(&s, COT_K_RAISING);
    name(&s, COT_F_NAME, "plugs");
    point(&s, COT_F_CROP, &crop);
    point(&s, COT_F_FORMAT, &f288);
    say(&s, COT_F_POT_DAYS, 21);
    point(&s, COT_F_POT_FORMAT, &f72);
    done(&s);
    plan_sowing(&f288, 1, MONDAY);
    read_needs(MONDAY, COT_DAY_MAX);
    ck_assert(needs.any_mix_unknown && needs.weeks == 2);
    ck_assert(needs.week[0].mix_unknown && needs.week[0].mix_ul == 0 && needs.week[0].trays == 1);
    ck_assert_int_eq(needs.week[1].monday, MONDAY + 21);
    ck_assert(needs.week[1].trays == 4 && !needs.week[1].mix_unknown); /* 217 to 288 plants likely of 288 cells */
    ck_assert_int_eq(needs.week[1].mix_ul, 4 * 5088960);
}
END_TEST

/* Larger trays are wanted for potting on three weeks after an early sowing, and by a sowing before that day: short from
 * the earlier of the two. What is potted on later than asked for is left out. */
START_TEST(days_in_order)
{
    make(&s, COT_K_RAISING);
    name(&s, COT_F_NAME, "plugs");
    point(&s, COT_F_CROP, &crop);
    point(&s, COT_F_FORMAT, &f288);
    say(&s, COT_F_POT_DAYS, 21);
    point(&s, COT_F_POT_FORMAT, &f72);
    done(&s);
    on_hand(COT_F_TRAYS, 3, &f72);
    plan_sowing(&f288, 1, MONDAY);
    plan_sowing(&f72, 4, MONDAY + 7);
    read_needs(MONDAY, COT_DAY_MAX);
    for (size_t i = 0; i < needs.items; i++) {
        if (needs.item[i].what != COT_NEED_TRAYS || cot_id_cmp(&needs.item[i].format->id, &f72) != 0) continue;
        ck_assert(needs.item[i].first == MONDAY + 7 && needs.item[i].short_on == MONDAY + 7);
        ck_assert_int_eq(needs.item[i].need, 8);
    }
    read_needs(MONDAY, MONDAY + 20);
    ck_assert_uint_eq(needs.weeks, 2);
    read_needs(MONDAY, MONDAY + 2);
    ck_assert_uint_eq(needs.weeks, 1);
}
END_TEST

START_TEST(a_shared_tray_is_one)
{
    for (int i = 0; i < 3; i++) {
        make(&s, COT_K_PLANNED);
        new_code(&s);
        point(&s, COT_F_LOT, &lot);
        point(&s, COT_F_FORMAT, &f72);
        say(&s, COT_F_TRAY_ROWS, 2);
        name(&s, COT_F_SHARED, "mixed");
        say(&s, COT_F_SOW_DAY, MONDAY);
        done(&s);
    }
    read_needs(MONDAY, MONDAY);
    ck_assert(needs.week[0].sowings == 3 && needs.week[0].trays == 1);
    ck_assert_int_eq(needs.week[0].seeds, 72); /* two rows of twelve each */
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/need");
    TCase *c = tcase_create("need");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, a_sowing);
    tcase_add_test(c, what_is_left_of_it);
    tcase_add_test(c, runs_short);
    tcase_add_test(c, potted_on);
    tcase_add_test(c, days_in_order);
    tcase_add_test(c, a_shared_tray_is_one);
    suite_add_tcase(suite, c);
    return suite;
}
