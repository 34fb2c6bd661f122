/* docs/arithmetic.md, "Is it believable": every worked example there is computed here again, and must stand there word
 * for word. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../page.h"
#include "cotyledger/core/check.h"

START_TEST(replicates)
{
    static const char *const tests[] = {"96 94 97 95", "99 98 96 87", "88 79 84 85"};
    struct cot_replicates r;
    struct cot_range out;
    put("seeds germinated     average  apart  may be    by chance\n");
    for (int i = 0; i < 3; i++) {
        ck_assert_int_eq(cot_replicates_read(tests[i], strlen(tests[i]), &r, NULL), COT_OK);
        ck_assert_int_eq(cot_check_range(&r, 400, &out, NULL), COT_OK);
        put("%-20s %5d %%%7d%8d%10.1f %%%s\n", tests[i], out.average, out.highest - out.lowest, out.most,
            100 * out.chance, out.verdict == COT_RANGE_RETEST ? "  test again" : "");
    }
    compare("replicates");
}
END_TEST

START_TEST(trays)
{
    struct cot_check_tray t[] = {{.tray = 1, .looked = 72, .usable = 66},
                                 {.tray = 4, .looked = 72, .usable = 70},
                                 {.tray = 6, .looked = 72, .usable = 61},
                                 {.tray = 7, .looked = 72, .usable = 67},
                                 {.tray = 9, .looked = 72, .usable = 19}};
    struct cot_spread spread;
    cot_spread_assumed(&spread);
    ck_assert_int_eq(cot_check_trays(t, 5, spread.rho_weight, NULL), COT_OK);
    put("tray  usable  so far off by chance\n");
    for (int i = 0; i < 5; i++)
        put("%4d%5d/%d%19.2f %%%s\n", t[i].tray, t[i].usable, t[i].looked, 100 * t[i].chance,
            t[i].unlike ? "  unlike the others" : "");
    compare("doubted");
}
END_TEST

START_TEST(against_the_lot)
{
    static const int64_t usable[] = {195, 170, 140, 110};
    struct cot_spread spread;
    struct cot_odds lot;
    cot_spread_assumed(&spread);
    cot_odds_of_seed(373, 29, 0.95, &lot);
    double variance = lot.sd * lot.sd + spread.shift_sd * spread.shift_sd + spread.between * spread.between;
    put("usable of 216  expected  so few or fewer by chance\n");
    for (int i = 0; i < 4; i++) {
        struct cot_check_stand s = {.trays = 3, .looked = 216, .usable = usable[i], .odds = {lot.mean, sqrt(variance)}};
        struct cot_check_low low;
        ck_assert_int_eq(cot_check_low(&s, spread.rho_weight, &low, NULL), COT_OK);
        put("%13d%10.0f%24.2f %%%s\n", (int)usable[i], low.expected, 100 * low.chance, low.low ? "  low" : "");
    }
    compare("low");
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/check/arithmetic");
    add(s, "replicates", replicates);
    add(s, "trays", trays);
    add(s, "low", against_the_lot);
    return s;
}
