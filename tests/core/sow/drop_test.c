/* Tests of server/core/sow/drop.c */
#include "cotyledger/core/sow.h"

#include <math.h>

#include "../seed.h"
#include "cotyledger/core/prob.h"

static struct cot_drop drop_of(int64_t seeds, int64_t misses, int64_t twos, bool put_right)
{
    struct cot_drop_known k = {.seeds = seeds, .singling = {misses, twos}, .put_right = put_right};
    struct cot_drop d;
    ck_assert_int_eq(cot_drop_of(&k, &d, NULL), COT_OK);
    return d;
}

static void near(double got, double want)
{
    if (fabs(got - want) > 1e-13 * (1 + fabs(want))) ck_abort_msg("got %.17g, want %.17g", got, want);
}

START_TEST(one_hole)
{
    struct cot_drop d = drop_of(1, 40, 50, false);
    ck_assert_int_eq(d.most, 2);
    near(d.p[0], 0.04);
    near(d.p[1], 0.91);
    near(d.p[2], 0.05);
    near(cot_drop_mean(&d), 1.01);
    near(cot_drop_variance(&d), 0.04 + 0.05 - 0.01 * 0.01);
}
END_TEST

START_TEST(put_right_leaves_no_hole_empty)
{
    struct cot_drop d = drop_of(3, 100, 50, true);
    for (int k = 0; k < 3; k++) ck_assert(d.p[k] == 0);
    near(cot_drop_mean(&d), 3.15);
    near(d.p[3], 0.95 * 0.95 * 0.95);
}
END_TEST

/* Every way in which the holes of a cell may drop, one by one. */
START_TEST(all_ways_of_four_holes)
{
    double one[3] = {0.07, 0.81, 0.12}, want[9] = {0};
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            for (int c = 0; c < 3; c++)
                for (int e = 0; e < 3; e++) want[a + b + c + e] += one[a] * one[b] * one[c] * one[e];
    struct cot_drop d = drop_of(4, 70, 120, false);
    ck_assert_int_eq(d.most, 8);
    for (int k = 0; k <= 8; k++) near(d.p[k], want[k]);
}
END_TEST

START_TEST(by_hand)
{
    struct cot_drop_known k = {.by_hand = true, .seeds = 6, .singling = {-5, 7000}};
    struct cot_drop d;
    ck_assert_int_eq(cot_drop_of(&k, &d, NULL), COT_OK);
    ck_assert_int_eq(d.most, 6);
    ck_assert(d.p[6] == 1 && cot_drop_mean(&d) == 6 && cot_drop_variance(&d) == 0);
}
END_TEST

START_TEST(out_of_range)
{
    static const struct cot_drop_known bad[] = {
        {.seeds = 0},
        {.seeds = 31},
        {.by_hand = true, .seeds = 31},
        {.seeds = -1},
        {.seeds = 1, .singling = {600, 500}},
        {.seeds = 1, .singling = {-1, 0}},
        {.seeds = 1, .singling = {0, 1001}},
        {.seeds = 1, .singling = {INT64_MAX, INT64_MAX}},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct cot_fault fault = {0};
        struct cot_drop d;
        ck_assert_msg(cot_drop_of(&bad[i], &d, &fault) == COT_INVALID, "case %zu", i);
        ck_assert_str_ne(fault.msg, "");
    }
}
END_TEST

START_TEST(sums_to_one)
{
    struct dice r = dice_new("sums_to_one");
    for (int i = 0; i < 2000; i++) {
        int64_t seeds = dice_int(&r, 1, 30), misses = dice_int(&r, 0, 1000), twos = dice_int(&r, 0, 1000 - misses);
        struct cot_drop d = drop_of(seeds, misses, twos, i % 2 == 1);
        double sum = 0;
        for (int k = 0; k <= d.most; k++) sum += d.p[k];
        near(sum, 1);
    }
}
END_TEST

/* Graded is better than raw, round better than flat, pellets best. */
START_TEST(usual_singling)
{
    for (int shape = COT_SHAPE_UNKNOWN; shape <= COT_SHAPE_FLUFFY; shape++) {
        struct cot_singling raw = cot_singling_usual(COT_SEED_RAW, shape);
        struct cot_singling graded = cot_singling_usual(COT_SEED_GRADED, shape);
        struct cot_singling pellet = cot_singling_usual(COT_SEED_PELLETED, shape);
        struct cot_singling primed = cot_singling_usual(COT_SEED_PRIMED, shape);
        ck_assert_int_lt(graded.misses, raw.misses);
        ck_assert_int_lt(graded.twos, raw.twos);
        ck_assert_int_lt(pellet.misses, graded.misses);
        ck_assert(primed.misses == raw.misses && primed.twos == raw.twos);
        ck_assert_int_le(cot_singling_usual(COT_SEED_RAW, COT_SHAPE_ROUND).misses, raw.misses);
    }
    struct cot_singling odd = cot_singling_usual((enum cot_seed_form)99, (enum cot_seed_shape)99);
    ck_assert_int_eq(odd.misses, cot_singling_usual(COT_SEED_RAW, COT_SHAPE_UNKNOWN).misses);
}
END_TEST

/* Against the binomial tails of prob. */
START_TEST(usable_cell)
{
    struct dice r = dice_new("usable_cell");
    for (int i = 0; i < 3000; i++) {
        int64_t seeds = dice_int(&r, 1, 12), misses = dice_int(&r, 0, 300), twos = dice_int(&r, 0, 300);
        struct cot_cell c = {drop_of(seeds, misses, twos, false), 0};
        c.at_least = dice_int(&r, 1, c.drop.most);
        double s = (double)dice_int(&r, 0, 1000) / 1000, want = 0;
        for (int k = 0; k <= c.drop.most; k++) want += c.drop.p[k] * cot_binom_ge(k, s, c.at_least);
        double got = cot_cell_usable(&c, s);
        if (!(fabs(got - want) < 1e-12)) ck_abort_msg("m %d, s %.3f: %.15f, %.15f", (int)c.at_least, s, got, want);
    }
}
END_TEST

START_TEST(usable_at_the_ends)
{
    struct cot_cell c = {drop_of(2, 100, 0, false), 1};
    ck_assert(cot_cell_usable(&c, 0) == 0);
    near(cot_cell_usable(&c, 1), 0.99);
    c.at_least = 2;
    near(cot_cell_usable(&c, 1), 0.81);
    c.at_least = 3; /* no drop leaves two */
    ck_assert(cot_cell_usable(&c, 1) == 0);
    c.at_least = 1000;
    ck_assert(cot_cell_usable(&c, 0.5) == 0);
    c.at_least = 0;
    near(cot_cell_usable(&c, 1), 0.99);
}
END_TEST

START_TEST(usable_rises_with_rate)
{
    struct cot_cell c = {drop_of(8, 40, 50, false), 5};
    double before = 0;
    for (int i = 1; i <= 1000; i++) {
        double q = cot_cell_usable(&c, i / 1000.0);
        sure(q >= before - 1e-15 && q <= 1);
        before = q;
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/sow/drop");
    TCase *drop = tcase_create("drop");
    tcase_add_test(drop, one_hole);
    tcase_add_test(drop, put_right_leaves_no_hole_empty);
    tcase_add_test(drop, all_ways_of_four_holes);
    tcase_add_test(drop, by_hand);
    tcase_add_test(drop, out_of_range);
    tcase_add_test(drop, sums_to_one);
    tcase_add_test(drop, usual_singling);
    suite_add_tcase(s, drop);
    TCase *usable = tcase_create("usable");
    tcase_add_test(usable, usable_cell);
    tcase_add_test(usable, usable_at_the_ends);
    tcase_add_test(usable, usable_rises_with_rate);
    suite_add_tcase(s, usable);
    return s;
}
