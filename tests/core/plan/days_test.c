/* Tests of server/core/plan/days.c */
#include "cotyledger/core/day.h"
#include "cotyledger/core/plan.h"

#include "../seed.h"

START_TEST(sets_against_plain_flags)
{
    struct dice r = dice_new("sets_against_plain_flags");
    for (int round = 0; round < 300; round++) {
        struct cot_dayset s = {0}, t = {0}, both, either;
        bool in[COT_PLAN_DAYS] = {0}, on[COT_PLAN_DAYS] = {0};
        int n = (int)dice_int(&r, 0, 40), count = 0, last = -1, next = -1;
        for (int i = 0; i < n; i++) {
            int32_t d = (int32_t)dice_int(&r, 0, COT_PLAN_DAYS - 1), e = (int32_t)dice_int(&r, 0, COT_PLAN_DAYS - 1);
            cot_dayset_add(&s, d);
            cot_dayset_add(&t, e);
            in[d] = on[e] = true;
        }
        bool within = true, meet = false;
        int32_t from = (int32_t)dice_int(&r, -5, COT_PLAN_DAYS + 5);
        both = either = s;
        cot_dayset_both(&both, &t);
        cot_dayset_either(&either, &t);
        for (int32_t d = 0; d < COT_PLAN_DAYS; d++) {
            sure(cot_dayset_have(&s, d) == in[d]);
            sure(cot_dayset_have(&both, d) == (in[d] && on[d]));
            sure(cot_dayset_have(&either, d) == (in[d] || on[d]));
            within = within && (!in[d] || on[d]);
            meet = meet || (in[d] && on[d]);
            count += in[d];
            if (in[d]) last = d;
            if (in[d] && d >= from && next < 0) next = d;
        }
        sure(cot_dayset_count(&s) == count && cot_dayset_last(&s) == last && cot_dayset_next(&s, from) == next);
        sure(cot_dayset_within(&s, &t) == within && cot_dayset_meet(&s, &t) == meet);
        sure(cot_dayset_within(&both, &s) && cot_dayset_within(&s, &either) && cot_dayset_empty(&s) == (count == 0));
    }
}
END_TEST

START_TEST(ranges_are_cut)
{
    struct cot_dayset s = {0};
    cot_dayset_range(&s, 5, 4);
    ck_assert(cot_dayset_empty(&s));
    cot_dayset_range(&s, -10, 2);
    ck_assert_int_eq(cot_dayset_count(&s), 3);
    cot_dayset_range(&s, COT_PLAN_DAYS - 2, INT32_MAX);
    ck_assert_int_eq(cot_dayset_count(&s), 5);
    ck_assert_int_eq(cot_dayset_last(&s), COT_PLAN_DAYS - 1);
    ck_assert(!cot_dayset_have(&s, -1) && !cot_dayset_have(&s, COT_PLAN_DAYS));
}
END_TEST

/* 2027-01-04 is a Monday; the weekday also agrees with that of the ISO week. */
START_TEST(working_days)
{
    int32_t closed[] = {cot_day_of(2027, 1, 6), cot_day_of(2027, 4, 2)};
    struct cot_calendar c = {cot_day_of(2027, 1, 4), 14, 31, closed, 2};
    struct cot_dayset w;
    cot_calendar_working(&c, &w);
    ck_assert_int_eq(cot_dayset_count(&w), 9);
    ck_assert(cot_dayset_have(&w, 0) && !cot_dayset_have(&w, 2) && !cot_dayset_have(&w, 5) && cot_dayset_have(&w, 7));
    ck_assert(!cot_calendar_works(&c, cot_day_of(2027, 4, 2)) && cot_calendar_works(&c, cot_day_of(2027, 4, 1)));
    for (int32_t d = -25567; d < 84000; d += 13) {
        int year, week, weekday;
        cot_week_of(d, &year, &week, &weekday);
        c.weekdays = 1u << (weekday - 1);
        c.closed_count = 0;
        sure(cot_calendar_works(&c, d) && !cot_calendar_works(&c, d + 1));
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/plan/days");
    TCase *t = tcase_create("days");
    tcase_add_test(t, sets_against_plain_flags);
    tcase_add_test(t, ranges_are_cut);
    tcase_add_test(t, working_days);
    suite_add_tcase(s, t);
    return s;
}
