/* Sowing days worked out by hand from published weeks in the tray (tests/reference/data/weeks_in_tray.csv: Utah State
 * University Extension, vegetable guide, Transplant Production). Weekdays from the ISO calendar of 2027: 1 January is
 * the Friday of week 53. */
#include "cotyledger/core/season.h"
#include "../core/season.h"
#include "values.h"

#define ON 20834 /* 2027-01-16, a Saturday */

/* Days in the chamber are the house's own; a stack is not to come up on a day on which nobody works.
 *
 * Broccoli, 5 to 7 weeks, 3 days in the chamber, for Monday 2027-04-19, neither earlier nor later: 35 days before is
 * Monday 03-15, 49 days before is Monday 03-01. Sown on a Wednesday or Thursday it would come up on Saturday or Sunday.
 * With Monday 03-08 closed, neither that day nor Friday 03-05, whose stack comes up then, will do.
 *
 * Tomato, 6 to 8 weeks, 6 days in the chamber, for Wednesday 2027-05-12, 2 days later will do: 42 days before Friday
 * 05-14 is Friday 04-02, 56 days before 05-12 is Wednesday 03-17. Sown on a Monday it would come up on Sunday.
 *
 * Onion, 8 to 12 weeks, not in the chamber, for Wednesday 2027-04-07, 3 days earlier will do: 56 days before 04-07 is
 * Wednesday 02-10, 84 days before 04-04 is Sunday 01-10, which is over: the first working day is Monday 01-18. */
static const struct {
    const char *crop;
    int chamber, early, late;
    const char *date, *closed, *days; /* month and day of 2027 */
} cases[] = {
    {"Broccoli", 3, 0, 0, "2027-04-19", "2027-03-08", "0301 0302 0309 0312 0315"},
    {"Tomato", 6, 0, 2, "2027-05-12", NULL, "0317 0318 0319 0323 0324 0325 0326 0330 0331 0401 0402"},
    {"Onion", 0, 3, 0, "2027-04-07", NULL,
     "0118 0119 0120 0121 0122 0125 0126 0127 0128 0129 0201 0202 0203 0204 0205 0208 0209 0210"},
};

static int32_t day_of(const char *text)
{
    int32_t day;
    ck_assert(cot_day_parse(text, strlen(text), &day));
    return day;
}

static bool utah(const char *source)
{
    return strncmp(source, "Utah", 4) == 0;
}

static void weeks_of(const char *crop, int *from, int *to)
{
    struct cot_csv *table = values_open("weeks_in_tray.csv");
    *from = *to = 0;
    for (size_t i = 1; i < cot_csv_count(table); i++) {
        if (strcmp(value_text(table, i, "crop"), crop) != 0 || !utah(value_text(table, i, "source"))) continue;
        *from = (int)value_real(table, i, "weeks_from");
        *to = (int)value_real(table, i, "weeks_to");
    }
    cot_csv_free(table);
    ck_assert_msg(*from > 0, "no weeks for %s", crop);
}

/* The days that the plan may choose among, as "MMDD MMDD ..."; it says the first and the last, and those between are
 * found by pinning the sowing to each day in turn. */
START_TEST(by_hand)
{
    struct season s;
    struct cot_season plan;
    int from, to;
    weeks_of(cases[_i].crop, &from, &to);
    season_new(&s, 1);
    start_crop(&s, cases[_i].crop, 7 * from, 7 * to);
    if (cases[_i].chamber) say(&s, COT_F_CHAMBER_DAYS, cases[_i].chamber);
    struct cot_id crop = *done(&s), variety = add_variety(&s, "Any", &crop), format = add_format(&s, "128", 8, 16);
    struct cot_id farm = add_named(&s, COT_K_FARM, "Ford");
    start_lot(&s, "L-1", &variety, 380);
    struct cot_id lot = *done(&s);
    if (cases[_i].closed) {
        make(&s, COT_K_SHUT);
        say(&s, COT_F_FROM, day_of(cases[_i].closed));
        done(&s);
    }
    start_line(&s, &farm, &variety, 300, day_of(cases[_i].date));
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_EARLY, cases[_i].early);
    say(&s, COT_F_LATE, cases[_i].late);
    struct cot_id line = *done(&s);
    struct cot_book *b = season_book(&s, NULL);
    ck_assert_int_eq(cot_season_plan(b, &(struct cot_season_ask){.on = ON}, &plan, NULL), COT_OK);
    ck_assert_uint_eq(plan.sowing_count, 1);
    char first[8], last[8], got[200] = "";
    int year, month, mday;
    cot_day_split(plan.sowing[0].first, &year, &month, &mday);
    snprintf(first, sizeof first, "%02d%02d", month, mday);
    cot_day_split(plan.sowing[0].last, &year, &month, &mday);
    snprintf(last, sizeof last, "%02d%02d", month, mday);
    ck_assert_int_eq(strncmp(cases[_i].days, first, 4), 0);
    ck_assert_str_eq(cases[_i].days + strlen(cases[_i].days) - 4, last);
    int32_t low = plan.sowing[0].first - 7, high = plan.sowing[0].last + 7;
    cot_season_free(&plan);
    cot_book_free(b);
    make(&s, COT_K_PLANNED);
    new_code(&s);
    point(&s, COT_F_LOT, &lot);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_TRAYS, 3);
    say(&s, COT_F_SOW_DAY, low);
    point(&s, COT_F_LINES, &line);
    name(&s, COT_F_PINS, "sow_day");
    struct cot_id planned = *done(&s);
    for (int32_t day = low < ON ? ON : low; day <= high; day++) {
        make(&s, COT_K_PLANNED);
        about(&s, &planned);
        say(&s, COT_F_SOW_DAY, day);
        done(&s);
        b = season_book(&s, NULL);
        ck_assert_int_eq(cot_season_plan(b, &(struct cot_season_ask){.on = ON}, &plan, NULL), COT_OK);
        cot_day_split(day, &year, &month, &mday);
        for (uint32_t i = 0; i < plan.sowing_count;
             i++) /* the pinned one serves the line only on a day of its window */
            if (plan.sowing[i].planned && plan.sowing[i].parts > 0)
                snprintf(got + strlen(got), sizeof got - strlen(got), "%s%02d%02d", got[0] ? " " : "", month, mday);
        cot_season_free(&plan);
        cot_book_free(b);
    }
    ck_assert_str_eq(got, cases[_i].days);
    season_free(&s);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("reference/window");
    TCase *c = tcase_create("window");
    tcase_set_timeout(c, 60);
    tcase_add_loop_test(c, by_hand, 0, (int)(sizeof cases / sizeof cases[0]));
    suite_add_tcase(suite, c);
    return suite;
}
