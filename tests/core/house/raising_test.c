/* server/core/house/raising.c: which raising days hold for a sowing. */
#include "cotyledger/core/raising.h"
#include "../season.h"

#define W10 20889 /* 2027-03-12, Friday of week 10 */
#define W30 21029 /* 2027-07-30, Friday of week 30 */
#define W45 21134 /* 2027-11-12, Friday of week 45 */

static struct season s;
static struct cot_book *book;
static struct cot_id lettuce, leek, small, deep;

static void setup(void)
{
    season_new(&s, 1);
    lettuce = add_crop(&s, "Lettuce", 28, 35);
    start_crop(&s, "Leek", 60, 80);
    say(&s, COT_F_CHAMBER_DAYS, 4);
    leek = *done(&s);
    small = add_format(&s, "288", 12, 24);
    deep = add_format(&s, "60 deep", 6, 10);
    book = NULL;
}

static void teardown(void)
{
    cot_book_free(book);
    season_free(&s);
}

static void start(const char *text, const struct cot_id *crop, const struct cot_id *format, int from, int to)
{
    make(&s, COT_K_RAISING);
    name(&s, COT_F_NAME, text);
    point(&s, COT_F_CROP, crop);
    if (format) point(&s, COT_F_FORMAT, format);
    if (from) say(&s, COT_F_FROM_WEEK, from);
    if (to) say(&s, COT_F_TO_WEEK, to);
}

static struct cot_id add(const char *text, const struct cot_id *format, int from, int to, int days)
{
    start(text, &lettuce, format, from, to);
    say(&s, COT_F_TRAY_DAYS, days);
    return *done(&s);
}

static struct cot_raising of(const struct cot_id *crop, const struct cot_id *format, int32_t day)
{
    struct cot_raising r;
    cot_book_free(book);
    book = season_book(&s, NULL);
    cot_raising_of(book, crop ? cot_book_thing(book, crop) : NULL, format ? cot_book_thing(book, format) : NULL, day,
                   &r);
    return r;
}

START_TEST(crops_own)
{
    struct cot_raising r = of(&leek, &small, W10);
    ck_assert(r.days == 60 && r.days_max == 80 && r.chamber == 4 && r.pot_days == COT_RAISING_UNKNOWN);
    ck_assert(!r.by && !r.pot_format);
    r = of(&lettuce, NULL, W10);
    ck_assert(r.days == 28 && r.days_max == 35 && r.chamber == COT_RAISING_UNKNOWN);
    r = of(NULL, &small, W10);
    ck_assert(r.days == COT_RAISING_UNKNOWN && r.days_max == COT_RAISING_UNKNOWN);
    struct cot_id bare = add_named(&s, COT_K_CROP, "Something");
    r = of(&bare, &small, W10);
    ck_assert(r.days == COT_RAISING_UNKNOWN && r.days_max == COT_RAISING_UNKNOWN);
}
END_TEST

/* Plugs bought in on Friday of week 10 stand as long as those potted on that day: 56 days in all, 21 of them as plugs.
 */
START_TEST(plugs)
{
    struct cot_raising r;
    (void)of(&leek, &deep, W10);
    cot_raising_of_plugs(book, cot_book_thing(book, &leek), cot_book_thing(book, &deep), W10, &r);
    ck_assert_int_eq(r.days, COT_RAISING_UNKNOWN);
    start("potted on", &leek, &small, 6, 8);
    say(&s, COT_F_TRAY_DAYS, 56);
    say(&s, COT_F_TRAY_DAYS_MAX, 70);
    say(&s, COT_F_POT_DAYS, 21);
    point(&s, COT_F_POT_FORMAT, &deep);
    done(&s);
    (void)of(&leek, &deep, W10);
    cot_raising_of_plugs(book, cot_book_thing(book, &leek), cot_book_thing(book, &deep), W10, &r);
    ck_assert(r.days == 35 && r.days_max == 49 && r.chamber == 0 && r.second && !r.pot_format);
    cot_raising_of_plugs(book, cot_book_thing(book, &leek), cot_book_thing(book, &deep), W30, &r);
    ck_assert_int_eq(r.days, COT_RAISING_UNKNOWN); /* those days are for sowings of weeks 6 to 8 */
    cot_raising_of_plugs(book, cot_book_thing(book, &leek), cot_book_thing(book, &small), W10, &r);
    ck_assert_int_eq(r.days, COT_RAISING_UNKNOWN);
}
END_TEST

/* One more, then a closer one: format before any, then the shorter season, then the later described. */
START_TEST(closest)
{
    add("any", NULL, 0, 0, 30);
    ck_assert_int_eq(of(&lettuce, &small, W10).days, 30);
    add("summer", NULL, 20, 35, 21);
    ck_assert_int_eq(of(&lettuce, &small, W30).days, 21);
    ck_assert_int_eq(of(&lettuce, &small, W10).days, 30);
    add("in 288", &small, 0, 0, 33);
    ck_assert_int_eq(of(&lettuce, &small, W30).days, 33);
    ck_assert_int_eq(of(&lettuce, &deep, W30).days, 21);
    ck_assert_int_eq(of(&lettuce, NULL, W30).days, 21);
    add("in 288, summer", &small, 20, 35, 24);
    ck_assert_int_eq(of(&lettuce, &small, W30).days, 24);
    ck_assert_int_eq(of(&lettuce, &small, W10).days, 33);
    struct cot_id again = add("in 288, summer, again", &small, 20, 35, 25);
    ck_assert_int_eq(of(&lettuce, &small, W30).days, 25);
    make(&s, COT_K_TAKEN_BACK);
    about(&s, &again);
    done(&s);
    ck_assert_int_eq(of(&lettuce, &small, W30).days, 24);
    ck_assert_int_eq(of(&leek, &small, W30).days, 60);
}
END_TEST

/* What a description leaves out stays the crop's; without a longest of its own, the span after ready stays. */
START_TEST(fields_left_out)
{
    start("leek in 288", &leek, &small, 0, 0);
    say(&s, COT_F_TRAY_DAYS, 70);
    done(&s);
    struct cot_raising r = of(&leek, &small, W10);
    ck_assert(r.days == 70 && r.days_max == 90 && r.chamber == 4);
    start("leek in 60", &leek, &deep, 0, 0);
    say(&s, COT_F_CHAMBER_DAYS, 7);
    done(&s);
    r = of(&leek, &deep, W10);
    ck_assert(r.days == 60 && r.days_max == 80 && r.chamber == 7 && r.by);
    start("lettuce", &lettuce, NULL, 0, 0);
    say(&s, COT_F_TRAY_DAYS_MAX, 20);
    done(&s);
    r = of(&lettuce, &deep, W10);
    ck_assert(r.days == 28 && r.days_max == 28); /* never less than ready */
}
END_TEST

START_TEST(potting_on)
{
    start("leek, two stages", &leek, &small, 0, 0);
    say(&s, COT_F_TRAY_DAYS, 63);
    say(&s, COT_F_POT_DAYS, 28);
    point(&s, COT_F_POT_FORMAT, &deep);
    done(&s);
    struct cot_raising r = of(&leek, &small, W10);
    ck_assert(r.days == 63 && r.pot_days == 28 && cot_id_cmp(&r.pot_format->id, &deep) == 0);
    r = of(&leek, &deep, W10);
    ck_assert(r.pot_days == COT_RAISING_UNKNOWN && !r.pot_format);
}
END_TEST

START_TEST(seasons)
{
    static const struct {
        int from, to, year, month, mday;
        bool holds;
    } cases[] = {
        {10, 20, 2027, 3, 8, true},   /* Monday of week 10 */
        {10, 20, 2027, 3, 7, false},  /* the Sunday before */
        {10, 20, 2027, 5, 23, true},  /* Sunday of week 20 */
        {10, 20, 2027, 5, 24, false}, /* week 21 */
        {40, 9, 2027, 10, 4, true},   /* week 40 */
        {40, 9, 2027, 10, 3, false},  /* week 39 */
        {40, 9, 2027, 1, 1, true},    /* week 53 of 2026 */
        {40, 9, 2027, 3, 7, true},    /* week 9 */
        {40, 9, 2027, 3, 8, false},   /* week 10 */
        {1, 53, 2027, 1, 1, true},    /* all year */
        {30, 52, 2027, 1, 1, true},   /* week 53 goes with week 52 */
        {1, 20, 2027, 1, 1, false},   /* week 53 is not week 1 */
        {12, 12, 2027, 3, 24, true},  /* one week */
        {12, 12, 2027, 3, 29, false}, /* week 13 */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        ck_assert_msg(cot_season_holds(cases[i].from, cases[i].to,
                                       cot_day_of(cases[i].year, cases[i].month, cases[i].mday)) == cases[i].holds,
                      "case %zu", i);
    ck_assert_int_eq(cot_season_weeks(10, 20), 11);
    ck_assert_int_eq(cot_season_weeks(40, 9), 23);
    ck_assert_int_eq(cot_season_weeks(1, 52), 53);
    ck_assert_int_eq(cot_season_weeks(5, 5), 1);
}
END_TEST

START_TEST(winter_wraps)
{
    add("winter", NULL, 40, 9, 45);
    ck_assert_int_eq(of(&lettuce, &small, W45).days, 45);
    ck_assert_int_eq(of(&lettuce, &small, W10).days, 28);
    ck_assert_int_eq(of(&lettuce, &small, W10 - 7).days, 45);
    ck_assert_int_eq(of(&lettuce, &small, COT_DAY_NONE).days, 28); /* no day: no season holds */
}
END_TEST

/* A batch in its first tray, and in its second: the days that are left from the potting on. */
START_TEST(batches)
{
    struct cot_id variety = add_variety(&s, "Northwold", &leek);
    start_lot(&s, "NW-1", &variety, 372);
    struct cot_id lot = *done(&s);
    start("leek, two stages", &leek, &small, 0, 0);
    say(&s, COT_F_TRAY_DAYS, 63);
    say(&s, COT_F_TRAY_DAYS_MAX, 77);
    say(&s, COT_F_POT_DAYS, 28);
    point(&s, COT_F_POT_FORMAT, &deep);
    done(&s);
    start_sown(&s, &lot, &small, 2, W10);
    struct cot_id batch = *done(&s);
    struct cot_id child[2];
    for (int i = 0; i < 2; i++) {
        make(&s, COT_K_POTTED);
        new_code(&s);
        point(&s, COT_F_BATCH, &batch);
        point(&s, COT_F_FORMAT, i == 0 ? &deep : &small);
        say(&s, COT_F_TRAYS, 4);
        say(&s, COT_F_PLANTS, 240);
        say(&s, COT_F_DAY, W10 + 30);
        child[i] = *done(&s);
    }
    book = season_book(&s, NULL);
    struct cot_raising r;
    const struct cot_thing *crop = cot_book_thing(book, &leek), *parent = cot_book_thing(book, &batch);
    cot_raising_of_batch(book, crop, parent, NULL, &r);
    ck_assert(r.days == 63 && !r.second && r.pot_days == 28);
    cot_raising_of_batch(book, crop, cot_book_thing(book, &child[0]), parent, &r);
    ck_assert(r.days == 35 && r.days_max == 49 && r.second && r.pot_days == COT_RAISING_UNKNOWN && !r.pot_format);
    cot_raising_of_batch(book, crop, cot_book_thing(book, &child[1]), parent, &r);
    ck_assert(r.days == 60 && r.days_max == 80 && !r.second);
}
END_TEST

/* Back from every day of two years: what it says does, and no later day would. */
START_TEST(back)
{
    add("winter", NULL, 40, 9, 45);
    add("summer", NULL, 20, 35, 21);
    struct cot_raising r, next;
    book = season_book(&s, NULL);
    const struct cot_thing *crop = cot_book_thing(book, &lettuce), *format = cot_book_thing(book, &small);
    for (int32_t ready = W10; ready < W10 + 730; ready++) {
        int32_t day = cot_raising_back(book, crop, format, ready, &r);
        ck_assert_int_ne(day, COT_DAY_NONE);
        ck_assert_int_le(day + r.days, ready);
        for (int32_t later = day + 1; later <= ready; later++) {
            cot_raising_of(book, crop, format, later, &next);
            ck_assert_int_gt(later + next.days, ready);
        }
    }
    ck_assert_int_eq(cot_raising_back(book, NULL, format, W10, &r), COT_DAY_NONE);
    ck_assert(r.days == COT_RAISING_UNKNOWN && !r.by);
    ck_assert_int_eq(cot_raising_back(book, crop, format, COT_DAY_NONE, &r), COT_DAY_NONE);
    ck_assert_int_eq(cot_raising_back(book, crop, format, COT_DAY_MAX + 1, &r), COT_DAY_NONE);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("house_raising");
    TCase *t = tcase_create("raising days");
    tcase_add_checked_fixture(t, setup, teardown);
    tcase_add_test(t, crops_own);
    tcase_add_test(t, plugs);
    tcase_add_test(t, closest);
    tcase_add_test(t, fields_left_out);
    tcase_add_test(t, potting_on);
    tcase_add_test(t, seasons);
    tcase_add_test(t, winter_wraps);
    tcase_add_test(t, batches);
    tcase_add_test(t, back);
    suite_add_tcase(suite, t);
    return suite;
}
