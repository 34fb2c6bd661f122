/* Tests of server/core/plan/window.c */
#include "cotyledger/core/day.h"
#include "cotyledger/core/plan.h"

#include <string.h>

#include "../seed.h"

static void plain(void *ctx, int32_t day, struct cot_raise *out)
{
    (void)day;
    *out = *(const struct cot_raise *)ctx;
}

static struct cot_window window(const struct cot_calendar *c, struct cot_wish w, struct cot_raise r)
{
    struct cot_window out;
    struct cot_fault f = {0};
    if (cot_window_of(c, &w, plain, &r, &out, &f)) ck_abort_msg("%s", f.msg);
    return out;
}

#define MONDAY cot_day_of(2027, 1, 4)
static const struct cot_calendar weekdays = {20822, 180, 31, NULL, 0}; /* from Monday 2027-01-04, Monday to Friday */

START_TEST(by_hand)
{
    ck_assert_int_eq(weekdays.first, MONDAY);
    /* Collected Monday of week 6 of the plan, 28 days to ready, kept 5 days more: sown from day 2 (35 - 33), a
     * Wednesday, to day 7, the Monday of week 2; not on the week-end. */
    struct cot_window w =
        window(&weekdays, (struct cot_wish){MONDAY + 35, 0, 0, MONDAY}, (struct cot_raise){.ready = 28, .past = 33});
    ck_assert_int_eq(w.first, 2);
    ck_assert_int_eq(w.last, 7);
    ck_assert_int_eq(cot_dayset_count(&w.days), 4);
    ck_assert_int_eq(w.why, COT_WINDOW_OPEN);
    /* Two days in the chamber: not on Thursday and Friday, whose stacks come up on a day off. */
    w = window(&weekdays, (struct cot_wish){MONDAY + 35, 0, 0, MONDAY},
               (struct cot_raise){.chamber = 2, .ready = 28, .past = 33});
    ck_assert_int_eq(cot_dayset_count(&w.days), 2);
    ck_assert(cot_dayset_have(&w.days, 2) && cot_dayset_have(&w.days, 7));
    /* Three days earlier and one day later will do. */
    w = window(&weekdays, (struct cot_wish){MONDAY + 35, 3, 1, MONDAY}, (struct cot_raise){.ready = 28, .past = 33});
    ck_assert_int_eq(w.first, 0);
    ck_assert_int_eq(w.last, 8);
}
END_TEST

START_TEST(two_stages)
{
    struct cot_raise r = {.chamber = 3, .plug = 21, .plug_max = 24, .ready = 14, .past = 20, .harden = 5};
    struct cot_stages s;
    /* Sown on a Saturday-potted day: 21 days after a Saturday, moved to the Monday. */
    ck_assert(!cot_raise_stages(&weekdays, &r, MONDAY + 5, &s));
    ck_assert_int_eq(s.potted, MONDAY + 28);
    ck_assert_int_eq(s.ready, MONDAY + 42);
    ck_assert(cot_raise_stages(&weekdays, &r, MONDAY, &s));
    ck_assert_int_eq(s.up, MONDAY + 3);
    ck_assert_int_eq(s.potted, MONDAY + 21);
    ck_assert_int_eq(s.harden, MONDAY + 30);
    ck_assert_int_eq(s.ready, MONDAY + 35);
    ck_assert_int_eq(s.past, MONDAY + 41);
    r.plug = r.plug_max = 5;
    ck_assert(!cot_raise_stages(&weekdays, &r, MONDAY, &s)); /* potted on a Saturday: no */
    ck_assert(cot_raise_stages(&weekdays, &(struct cot_raise){.ready = 9, .past = 9}, MONDAY, &s));
    ck_assert_int_eq(s.potted, COT_DAY_NONE);
    ck_assert_int_eq(s.up, MONDAY);
}
END_TEST

START_TEST(reasons)
{
    struct cot_raise r = {.ready = 28, .past = 33};
    struct cot_raise never = {.chamber = 5, .ready = 28, .past = 33}; /* Monday's stack comes up on Saturday */
    int32_t closed[] = {MONDAY + 7};
    struct cot_calendar shut = {MONDAY, 180, 31, closed, 1};
    ck_assert_int_eq(window(&weekdays, (struct cot_wish){MONDAY + 35, 0, 0, MONDAY + 8}, r).why, COT_WINDOW_GONE);
    ck_assert_int_eq(window(&weekdays, (struct cot_wish){MONDAY + 10, 0, 0, MONDAY}, r).why, COT_WINDOW_GONE);
    ck_assert_int_eq(window(&weekdays, (struct cot_wish){MONDAY + 35, 0, 0, MONDAY + 400}, r).why, COT_WINDOW_GONE);
    ck_assert_int_eq(window(&weekdays, (struct cot_wish){MONDAY + 400, 0, 0, MONDAY}, r).why, COT_WINDOW_BEYOND);
    ck_assert_int_eq(
        window(&shut, (struct cot_wish){MONDAY + 35, 0, 0, MONDAY}, (struct cot_raise){.ready = 28, .past = 28}).why,
        COT_WINDOW_CLOSED);
    ck_assert_int_eq(window(&weekdays, (struct cot_wish){MONDAY + 35, 0, 0, MONDAY + 7}, never).why, COT_WINDOW_CLOSED);
}
END_TEST

static void by_season(void *ctx, int32_t day, struct cot_raise *out)
{
    const int32_t *turn = ctx; /* before this day two months, from it on one */
    *out = (struct cot_raise){.ready = day < *turn ? 60 : 30, .past = day < *turn ? 61 : 31};
}

START_TEST(days_by_season)
{
    struct cot_window out;
    int32_t turn = MONDAY + 40;
    /* Day 60 + 5: either sown on days 4, 5 (60 days), or on 34, 35, which are still long. */
    ck_assert_int_eq(
        cot_window_of(&weekdays, &(struct cot_wish){MONDAY + 65, 0, 0, MONDAY}, by_season, &turn, &out, NULL), COT_OK);
    ck_assert_int_eq(cot_dayset_count(&out.days), 1);
    ck_assert_int_eq(out.first, 4); /* day 5 is a Saturday */
    /* Nothing leads to day 66 .. 69 by short days (sown before the turn), and day 99 not by long ones only. */
    ck_assert_int_eq(
        cot_window_of(&weekdays, &(struct cot_wish){MONDAY + 99, 0, 0, MONDAY}, by_season, &turn, &out, NULL), COT_OK);
    ck_assert_int_eq(cot_dayset_count(&out.days), 2); /* 38 and 39 by long days; 68, 69 by short ones are a week-end */
    turn = MONDAY + 20;
    ck_assert_int_eq(
        cot_window_of(&weekdays, &(struct cot_wish){MONDAY + 100, 0, 0, MONDAY + 21}, by_season, &turn, &out, NULL),
        COT_OK);
    ck_assert_int_eq(cot_dayset_count(&out.days), 1);
    ck_assert_int_eq(out.first, 70);
    turn = MONDAY + 10; /* long days end on 70, short ones start on 40: both lead to 65 */
    ck_assert_int_eq(
        cot_window_of(&weekdays, &(struct cot_wish){MONDAY + 66, 0, 0, MONDAY}, by_season, &turn, &out, NULL), COT_OK);
    ck_assert_int_eq(cot_dayset_count(&out.days), 2); /* 36 by short days; 5, 6 are a week-end; 35 is past use on 66 */
    ck_assert(cot_dayset_have(&out.days, 35) && cot_dayset_have(&out.days, 36));
}
END_TEST

static void towards_winter(void *ctx, int32_t day, struct cot_raise *out)
{
    const int32_t *turn = ctx; /* before this day one month, from it on two */
    *out = (struct cot_raise){.ready = day < *turn ? 30 : 60, .past = day < *turn ? 31 : 61};
}

/* Ready on day 80: neither a quick sowing, the last of which is past use on 70, nor a slow one, ready on 100 at first.
 */
START_TEST(no_day_leads_there)
{
    struct cot_window out;
    int32_t turn = MONDAY + 40;
    struct cot_calendar daily = {MONDAY, 110, 127, NULL, 0};
    ck_assert_int_eq(
        cot_window_of(&daily, &(struct cot_wish){MONDAY + 80, 0, 0, MONDAY}, towards_winter, &turn, &out, NULL),
        COT_OK);
    ck_assert_int_eq(out.why, COT_WINDOW_NEVER);
    ck_assert_int_eq(
        cot_window_of(&daily, &(struct cot_wish){MONDAY + 70, 0, 0, MONDAY}, towards_winter, &turn, &out, NULL),
        COT_OK);
    ck_assert_int_eq(cot_dayset_count(&out.days), 1);
    ck_assert_int_eq(out.first, 39);
}
END_TEST

/* Every day of the horizon by the definition itself. */
START_TEST(against_definition)
{
    struct dice r = dice_new("against_definition");
    for (int round = 0; round < 3000; round++) {
        int32_t closed[8], n = (int32_t)dice_int(&r, 0, 8);
        struct cot_calendar c = {(int32_t)dice_int(&r, 20000, 21000), (int32_t)dice_int(&r, 1, COT_PLAN_DAYS), 0,
                                 closed, (size_t)n};
        c.weekdays = (unsigned)dice_int(&r, 1, 127);
        for (int32_t i = 0; i < n; i++) closed[i] = c.first + i * 20 + (int32_t)dice_int(&r, 0, 19);
        struct cot_raise a = {.ready = (int32_t)dice_int(&r, 10, 60)};
        if (dice_int(&r, 0, 1)) a.chamber = (int32_t)dice_int(&r, 0, 7);
        if (dice_int(&r, 0, 1))
            a.plug = (int32_t)dice_int(&r, 7, 30), a.plug_max = a.plug + (int32_t)dice_int(&r, 0, 4);
        a.past = a.ready + (int32_t)dice_int(&r, 0, 20);
        struct cot_wish w = {c.first + (int32_t)dice_int(&r, 0, 500), (int32_t)dice_int(&r, 0, 9),
                             (int32_t)dice_int(&r, 0, 9), c.first + (int32_t)dice_int(&r, -20, 200)};
        struct cot_window got = window(&c, w, a);
        for (int32_t i = 0; i < c.days; i++) {
            int32_t s = c.first + i, p = s;
            bool good = cot_calendar_works(&c, s) && cot_calendar_works(&c, s + a.chamber) && s >= w.from;
            if (a.plug) {
                p = s + a.plug;
                while (p <= s + a.plug_max && !cot_calendar_works(&c, p)) p++;
                good = good && p <= s + a.plug_max;
            }
            good = good && p + a.ready <= w.date + w.late && p + a.past >= w.date - w.early;
            sure(cot_dayset_have(&got.days, i) == good);
        }
        sure((got.why == COT_WINDOW_OPEN) == !cot_dayset_empty(&got.days));
    }
}
END_TEST

static void refused(struct cot_calendar c, struct cot_wish w, struct cot_raise r, const char *about)
{
    struct cot_window out;
    struct cot_fault f = {0};
    ck_assert_int_eq(cot_window_of(&c, &w, plain, &r, &out, &f), COT_INVALID);
    ck_assert_msg(strstr(f.msg, about), "%s", f.msg);
    ck_assert(cot_dayset_empty(&out.days) && out.first == -1);
}

START_TEST(out_of_range)
{
    struct cot_wish w = {MONDAY + 40, 0, 0, MONDAY};
    struct cot_raise r = {.ready = 28, .past = 30};
    int32_t twice[] = {MONDAY, MONDAY};
    refused((struct cot_calendar){MONDAY, 0, 31, NULL, 0}, w, r, "1 to 448 days");
    refused((struct cot_calendar){MONDAY, 449, 31, NULL, 0}, w, r, "1 to 448 days");
    refused((struct cot_calendar){MONDAY, 100, 0, NULL, 0}, w, r, "weekday");
    refused((struct cot_calendar){INT32_MAX, 100, 31, NULL, 0}, w, r, "first day");
    refused((struct cot_calendar){MONDAY, 100, 31, twice, 2}, w, r, "closed days");
    refused(weekdays, (struct cot_wish){INT32_MIN, 0, 0, MONDAY}, r, "collecting day");
    refused(weekdays, (struct cot_wish){MONDAY, -1, 0, MONDAY}, r, "earlier");
    refused(weekdays, (struct cot_wish){MONDAY, 0, 61, MONDAY}, r, "later");
    refused(weekdays, w, (struct cot_raise){.ready = 0, .past = 30}, "until ready");
    refused(weekdays, w, (struct cot_raise){.ready = 31, .past = 30}, "past use");
    refused(weekdays, w, (struct cot_raise){.ready = 31, .past = 40, .harden = 32}, "hardening");
    refused(weekdays, w, (struct cot_raise){.ready = 31, .past = 40, .chamber = -1}, "chamber");
    refused(weekdays, w, (struct cot_raise){.ready = 31, .past = 40, .chamber = 40}, "chamber");
    refused(weekdays, w, (struct cot_raise){.ready = 31, .past = 40, .plug = 9, .plug_max = 8}, "potting on");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/plan/window");
    TCase *t = tcase_create("window");
    tcase_add_test(t, by_hand);
    tcase_add_test(t, two_stages);
    tcase_add_test(t, reasons);
    tcase_add_test(t, days_by_season);
    tcase_add_test(t, no_day_leads_there);
    tcase_add_test(t, against_definition);
    tcase_add_test(t, out_of_range);
    suite_add_tcase(s, t);
    return s;
}
