/* server/core/day.c: dates and weeks against the C library's calendar and ISO 8601's own examples. */
#include <string.h>
#include <time.h>

#include "../main.h"
#include "cotyledger/core/day.h"
#include "seed.h"

START_TEST(every_day_as_libc_has_it)
{
    for (int32_t d = COT_DAY_MIN; d <= COT_DAY_MAX; d++) {
        time_t t = (time_t)d * 86400;
        struct tm tm;
        char date[32], week[32], our_date[COT_DAY_TEXT], our_week[COT_WEEK_TEXT];
        sure(gmtime_r(&t, &tm) != NULL);
        strftime(date, sizeof date, "%Y-%m-%d", &tm);
        strftime(week, sizeof week, "%G-W%V", &tm);
        cot_day_text(d, our_date);
        cot_week_text(d, our_week);
        if (strcmp(our_date, date) != 0 || strcmp(our_week, week) != 0)
            ck_abort_msg("%s %s, where libc says %s %s", our_date, our_week, date, week);

        int year, month, mday, week_year, number, weekday;
        int32_t back;
        cot_day_split(d, &year, &month, &mday);
        sure(cot_day_of(year, month, mday) == d);
        sure(cot_day_parse(our_date, 10, &back) && back == d);
        cot_week_of(d, &week_year, &number, &weekday);
        sure(weekday == (tm.tm_wday == 0 ? 7 : tm.tm_wday));
        sure(cot_week_day(week_year, number, weekday) == d);
    }
}
END_TEST

/* ISO 8601, clause on week dates (from memory): 1 January 1995 is 1994-W52-7, 31 December 1996 is 1997-W01-2. And years
 * of 53 weeks: those that begin on a Thursday, or on a Wednesday when leap. */
START_TEST(iso_examples)
{
    int y, w, d;
    cot_week_of(cot_day_of(1995, 1, 1), &y, &w, &d);
    ck_assert(y == 1994 && w == 52 && d == 7);
    cot_week_of(cot_day_of(1996, 12, 31), &y, &w, &d);
    ck_assert(y == 1997 && w == 1 && d == 2);
    ck_assert_int_ne(cot_week_day(2020, 53, 7), COT_DAY_NONE);
    ck_assert_int_eq(cot_week_day(2020, 53, 7), cot_day_of(2021, 1, 3));
    ck_assert_int_eq(cot_week_day(2021, 53, 1), COT_DAY_NONE);
    ck_assert_int_eq(cot_week_day(2021, 0, 1), COT_DAY_NONE);
    ck_assert_int_eq(cot_week_day(2021, 10, 8), COT_DAY_NONE);
}
END_TEST

START_TEST(no_such_date)
{
    static const char *const bad[] = {"2027-02-29",  "2100-02-29",  "2027-13-01", "2027-00-10",
                                      "2027-04-31",  "2027-04-00",  "1899-12-31", "2200-01-01",
                                      "2027-3-29",   "2027/03/29",  "20270329",   "2027-03-2x",
                                      " 2027-03-29", "2027-03-29 ", "+027-03-29", ""};
    int32_t day;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        ck_assert_msg(!cot_day_parse(bad[i], strlen(bad[i]), &day), "%s was taken", bad[i]);
    ck_assert(cot_day_parse("2028-02-29", 10, &day));
    ck_assert(cot_day_parse("2000-02-29", 10, &day));
    char text[COT_DAY_TEXT], week[COT_WEEK_TEXT];
    cot_day_text(COT_DAY_NONE, text);
    ck_assert_str_eq(text, "no date");
    cot_week_text(COT_DAY_NONE, week);
    ck_assert_str_eq(week, "no week");
}
END_TEST

START_TEST(weeks_read)
{
    int y, w;
    ck_assert(cot_week_parse("2027-W13", 8, &y, &w));
    ck_assert(y == 2027 && w == 13);
    ck_assert(cot_week_parse("2020-W53", 8, &y, &w));
    static const char *const bad[] = {"2021-W53", "2027-W00", "2027-13", "2027W013",
                                      "2027-w13", "1899-W10", "2027-W54"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        ck_assert_msg(!cot_week_parse(bad[i], strlen(bad[i]), &y, &w), "%s was taken", bad[i]);
}
END_TEST

START_TEST(stated_formats)
{
    static const struct {
        const char *fmt, *s, *iso;
    } rows[] = {
        {"D.M.YYYY", "29.3.2027", "2027-03-29"},
        {"D.M.YYYY", "09.03.2027", "2027-03-09"},
        {"M/D/YY", "3/9/27", "2027-03-09"},
        {"DD-MM-YYYY", "29-03-2027", "2027-03-29"},
        {"YYYYMMDD", "20270329", "2027-03-29"},
        {"YYYY-MM-DD", "2027-03-29", "2027-03-29"},
        {"D. M. YYYY", "29. 3. 2027", "2027-03-29"},
        {"D.M.YYYY", "29.3.27", NULL},
        {"M/D/YY", "29/3/27", NULL},
        {"M/D/YY", "3/9/2027", NULL},
        {"D.M.YYYY", "29.3.2027 ", NULL},
        {"D.M.YYYY", "129.3.2027", NULL},
        {"D.M.YYYY", "29.3.", NULL},
        {"D.M", "29.3", NULL},
        {"D.M.D.YYYY", "29.3.29.2027", NULL},
        {"YYYYMMDD", "2027329", NULL},
        {"D.M.YYY", "29.3.027", NULL},
        {"D.Mon.YYYY", "29.3on.2027", NULL},
        {"D.M.YYYY", "29..2027", NULL},
        {"D.M.YYYY", "31.2.2027", NULL},
        {"", "", NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int32_t day = 0, want = 0;
        bool took = cot_day_parse_as(rows[i].fmt, rows[i].s, strlen(rows[i].s), &day);
        ck_assert_msg(took == (rows[i].iso != NULL), "%s as %s", rows[i].s, rows[i].fmt);
        if (!took) continue;
        ck_assert(cot_day_parse(rows[i].iso, 10, &want));
        ck_assert_int_eq(day, want);
    }
}
END_TEST

START_TEST(instants)
{
    ck_assert_int_eq(cot_day_at(0, 0), 0);
    ck_assert_int_eq(cot_day_at(-1, 0), -1);
    ck_assert_int_eq(cot_day_at(0, -1), -1);
    ck_assert_int_eq(cot_day_at(86399999, 0), 0);
    ck_assert_int_eq(cot_day_at(86400000 - 3600000, 60), 1);
    ck_assert_int_eq(cot_day_at(86400000 - 3600001, 60), 0);
    ck_assert_int_eq(cot_day_at(INT64_MAX, 840), COT_DAY_NONE);
    ck_assert_int_eq(cot_day_at(INT64_MIN, -840), COT_DAY_NONE);
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 60);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/day");
    add(s, "every_day", every_day_as_libc_has_it);
    add(s, "weeks", iso_examples);
    add(s, "no_such_date", no_such_date);
    add(s, "weeks_read", weeks_read);
    add(s, "formats", stated_formats);
    add(s, "instants", instants);
    return s;
}
