/* server/core/check/germ.c: replicates, their range, and two results. The tables' rows: tests/reference. */
#include <math.h>
#include <string.h>

#include "cotyledger/core/check.h"
#include "cotyledger/core/prob.h"
#include "../../main.h"
#include "../seed.h"

static struct cot_fault fault;

static enum cot_err reads(const char *text, struct cot_replicates *r)
{
    fault = (struct cot_fault){0};
    return cot_replicates_read(text, strlen(text), r, &fault);
}

START_TEST(texts)
{
    struct cot_replicates r;
    ck_assert_int_eq(reads("96 94 97 95", &r), COT_OK);
    ck_assert_int_eq(r.count, 4);
    ck_assert_int_eq(r.germinated[0], 96);
    ck_assert_int_eq(r.germinated[3], 95);
    ck_assert_int_eq(reads("0 999999", &r), COT_OK);
    static const char *const bad[] = {"",       " ",      "96 ",    " 96 94", "96  94", "96,94", "96 94\n",
                                      "96 -94", "96 9x4", "+96 94", "96\t94", "9 6.5",  "a b",   "96 94 "};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) ck_assert_int_eq(reads(bad[i], &r), COT_MALFORMED);
    ck_assert_int_eq(reads("96", &r), COT_INVALID);
    ck_assert_str_eq(fault.msg, "replicates: one alone is none; give two or more, or leave them out");
    ck_assert_int_eq(reads("1000000 2", &r), COT_INVALID);
    ck_assert_int_eq(reads("99999999999999999999 2", &r), COT_INVALID);
    char many[200] = "1";
    for (int i = 1; i < 41; i++) strcat(many, " 1");
    ck_assert_int_eq(reads(many, &r), COT_INVALID);
    many[strlen(many) - 2] = '\0';
    ck_assert_int_eq(reads(many, &r), COT_OK);
    ck_assert_int_eq(r.count, 40);
}
END_TEST

START_TEST(fitting)
{
    struct cot_replicates r;
    ck_assert_int_eq(reads("96 94 97 95", &r), COT_OK);
    ck_assert_int_eq(cot_replicates_fit(&r, 400, 382, &fault), COT_OK);
    ck_assert_int_eq(cot_replicates_fit(&r, -1, -1, &fault), COT_OK);
    ck_assert_int_eq(cot_replicates_fit(&r, 400, 381, &fault), COT_INVALID);
    ck_assert_str_eq(fault.msg, "replicates: they make 382 germinated, but the test says 381");
    ck_assert_int_eq(cot_replicates_fit(&r, 402, 382, &fault), COT_INVALID);
    ck_assert_str_eq(fault.msg, "replicates: 402 seeds tested cannot be split evenly into 4");
    ck_assert_int_eq(cot_replicates_fit(&r, 384, 382, &fault), COT_INVALID);
    ck_assert_str_eq(fault.msg, "replicates: 97 germinated of 96 seeds (384 tested in 4)");
    ck_assert_int_eq(cot_replicates_fit(&r, 0, -1, &fault), COT_INVALID);
    r.germinated[1] = -1;
    ck_assert_int_eq(cot_replicates_fit(&r, 400, -1, &fault), COT_INVALID);
    r.count = 1;
    ck_assert_int_eq(cot_replicates_fit(&r, 400, -1, &fault), COT_INVALID);
    r.count = 41;
    ck_assert_int_eq(cot_replicates_fit(&r, 410, -1, &fault), COT_INVALID);
}
END_TEST

static struct cot_range range_of(const char *text, int64_t seeds)
{
    struct cot_replicates r;
    struct cot_range out;
    ck_assert_int_eq(reads(text, &r), COT_OK);
    ck_assert_int_eq(cot_check_range(&r, seeds, &out, &fault), COT_OK);
    return out;
}

START_TEST(ranges)
{
    struct cot_range r = range_of("96 94 97 95", 400); /* average 95.5, rounded to 96: at most 8 */
    ck_assert_int_eq(r.average, 96);
    ck_assert_int_eq(r.most, 8);
    ck_assert_int_eq(r.verdict, COT_RANGE_FITS);
    ck_assert_int_eq(range_of("91 99 96 98", 400).verdict, COT_RANGE_FITS);   /* 8 of 8 */
    ck_assert_int_eq(range_of("90 99 96 98", 400).verdict, COT_RANGE_RETEST); /* 9 of 8 */
    ck_assert_int_eq(range_of("80 67", 200).verdict, COT_RANGE_FITS);         /* 74 percent (73.5), 13 of 14 */
    ck_assert_int_eq(range_of("82 67", 200).verdict, COT_RANGE_RETEST);       /* 75 percent, 15 of 14 */
    ck_assert_int_eq(range_of("97 99", 200).most, -1);                        /* 98 of two: nothing printed */
    ck_assert_int_eq(range_of("100 100 100 100", 400).most, -1);
    ck_assert_int_eq(range_of("0 0 0 0", 400).most, -1);
    /* Other shapes: no table, the chance alone. Two replicates of one seed, one up and one not: 1/2. */
    r = range_of("1 0", 2);
    ck_assert_int_eq(r.verdict, COT_RANGE_NO_TABLE);
    ck_assert_double_eq(r.chance, 0.5);
    ck_assert_double_eq(range_of("1 1", 2).chance, 1);
    r = range_of("48 45 50 41", 200);
    ck_assert_int_eq(r.verdict, COT_RANGE_NO_TABLE);
    ck_assert_int_eq(r.seeds_each, 50);
    ck_assert_double_lt(range_of("90 10 50 50", 400).chance, 1e-8);
    struct cot_replicates two = {2, {1, 2}};
    ck_assert_int_eq(cot_check_range(&two, -1, &r, &fault), COT_INVALID);
    ck_assert_int_eq(cot_check_range(&two, 2, &r, &fault), COT_INVALID);
    ck_assert_int_eq(cot_check_range(&two, 999998, &r, &fault), COT_OK); /* large, and quick */
}
END_TEST

/* Every outcome of three replicates of five seeds added up. */
START_TEST(range_chance_by_hand)
{
    for (int a = 0; a <= 5; a++) {
        for (int b = 0; b <= 5; b++) {
            struct cot_replicates r = {3, {a, b, (a + b) / 2}};
            struct cot_range out;
            ck_assert_int_eq(cot_check_range(&r, 15, &out, &fault), COT_OK);
            double rate = (a + b + (a + b) / 2) / 15.0, want = 0;
            for (int i = 0; i < 6 * 6 * 6; i++) {
                int x = i / 36, y = i / 6 % 6, z = i % 6;
                int high = x > y ? x : y, low = x < y ? x : y;
                high = z > high ? z : high;
                low = z < low ? z : low;
                if (high - low >= out.highest - out.lowest)
                    want += cot_binom_pmf(5, rate, x) * cot_binom_pmf(5, rate, y) * cot_binom_pmf(5, rate, z);
            }
            ck_assert_double_eq_tol(out.chance, want, 2e-9);
        }
    }
}
END_TEST

static struct cot_agreement agree(struct cot_result first, struct cot_result second)
{
    struct cot_agreement out;
    ck_assert_int_eq(cot_check_agreement(&first, &second, &out, &fault), COT_OK);
    return out;
}

START_TEST(agreement)
{
    /* Our own examples of the rule: label 85, test 78: mean 81.5, tolerance 7, difference 7: within. 77: out. */
    struct cot_result label = {0, 0, 85};
    struct cot_agreement a = agree((struct cot_result){312, 400, 0}, label);
    ck_assert_double_eq(a.mean, 81.5);
    ck_assert_double_eq(a.difference, -7);
    ck_assert_int_eq(a.most, 7);
    ck_assert(a.within);
    ck_assert_double_eq_tol(a.chance, cot_binom_le(400, 0.85, 312), 1e-9);
    a = agree((struct cot_result){308, 400, 0}, label);
    ck_assert_int_eq(a.most, 7);
    ck_assert(!a.within);
    a = agree(label, (struct cot_result){308, 400, 0}); /* the other way round */
    ck_assert_double_eq(a.difference, 8);
    ck_assert(!a.within);
    /* A mean just on a step: 93 and 87 make 90, tolerance 6, difference 6. */
    a = agree((struct cot_result){372, 400, 0}, (struct cot_result){348, 400, 0});
    ck_assert_int_eq(a.most, 6);
    ck_assert(a.within);
    ck_assert_double_eq_tol(a.chance, cot_hyper_ge(800, 720, 400, 372), 1e-9);
    /* 200 seeds: no published tolerance, so by chance. */
    a = agree((struct cot_result){160, 200, 0}, label);
    ck_assert_int_eq(a.most, -1);
    ck_assert(a.within);
    ck_assert(!agree((struct cot_result){150, 200, 0}, label).within);
}
END_TEST

START_TEST(agreement_refused)
{
    struct cot_agreement out;
    static const struct cot_result bad[] = {{401, 400, 0}, {-1, 400, 0}, {1, -4, 0},
                                            {0, 0, 101},   {0, 0, -1},   {0, 0, NAN}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct cot_result test = {380, 400, 0}, b = bad[i];
        ck_assert_int_eq(cot_check_agreement(&test, &b, &out, &fault), COT_INVALID);
        ck_assert_int_eq(cot_check_agreement(&b, &test, &out, &fault), COT_INVALID);
    }
    struct cot_result label = {0, 0, 85}, same = label;
    ck_assert_int_eq(cot_check_agreement(&label, &same, &out, &fault), COT_INVALID);
    ck_assert_int_eq(cot_tolerance(NAN), -1);
    ck_assert_int_eq(cot_tolerance(-1), -1);
    ck_assert_int_eq(cot_tolerance(100.5), -1);
    ck_assert_int_eq(cot_range_most(3, 90), -1);
    ck_assert_int_eq(cot_range_most(4, 1), -1);
    ck_assert_int_eq(cot_range_most(4, 100), -1);
    ck_assert_int_eq(cot_range_most(4, 2), 5);
}
END_TEST

/* Replicates drawn from alike seed are called for a retest about as often as the table means: in 1 of 40 tests or so,
 * and never more than twice that. */
START_TEST(retests_are_rare)
{
    struct dice d = dice_new("retests_are_rare");
    int retests = 0, rounds = 4000;
    for (int i = 0; i < rounds; i++) {
        double rate = 0.6 + 0.35 * dice_real(&d);
        struct cot_replicates r = {.count = 4};
        struct cot_range out;
        for (int k = 0; k < 4; k++) r.germinated[k] = (int32_t)cot_binom_quantile(100, rate, dice_real(&d));
        ck_assert_int_eq(cot_check_range(&r, 400, &out, &fault), COT_OK);
        retests += out.verdict == COT_RANGE_RETEST;
    }
    printf("%d retests of %d\n", retests, rounds);
    ck_assert_int_gt(retests, rounds / 100);
    ck_assert_int_lt(retests, rounds / 20);
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
    Suite *s = suite_create("core/check/germ");
    add(s, "texts", texts);
    add(s, "fitting", fitting);
    add(s, "ranges", ranges);
    add(s, "range_chance", range_chance_by_hand);
    add(s, "agreement", agreement);
    add(s, "refused", agreement_refused);
    add(s, "retests", retests_are_rare);
    return s;
}
