/* server/core/check/low.c: a batch against its lot, and where the cause lies. */
#include <math.h>
#include <string.h>

#include "cotyledger/core/check.h"
#include "cotyledger/core/prob.h"
#include "../../main.h"
#include "../seed.h"

static struct cot_fault fault;
static struct cot_spread spread;

static void setup(void)
{
    cot_spread_assumed(&spread);
}

static struct cot_check_stand stand(int64_t trays, int64_t looked, int64_t usable, double rate, double sd)
{
    return (struct cot_check_stand){
        .trays = trays, .looked = looked, .usable = usable, .odds = {cot_odds_of_rate(rate), sd}};
}

static struct cot_check_low low_of(struct cot_check_stand s)
{
    struct cot_check_low out;
    ck_assert_int_eq(cot_check_low(&s, spread.rho_weight, &out, &fault), COT_OK);
    return out;
}

/* One tray whose rate is known: the chance is the mixture's own. */
START_TEST(known_rate)
{
    struct cot_check_low l = low_of(stand(1, 72, 50, 0.9, 0));
    double want = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double weight = 1 / cot_rho_point[r] - 1;
        want += spread.rho_weight[r] * cot_betabinom_le(72, 0.9 * weight, 0.1 * weight, 50);
    }
    ck_assert_double_eq_tol(l.chance, want, 1e-6);
    ck_assert_double_eq_tol(l.expected, 64.8, 1e-6);
}
END_TEST

START_TEST(falls_with_usable)
{
    double before = 0;
    for (int64_t k = 0; k <= 216; k++) {
        struct cot_check_low l = low_of(stand(3, 216, k, 0.9, 0.4));
        ck_assert(l.chance >= before && l.chance <= 1);
        ck_assert_int_eq(l.low, l.chance < COT_CHECK_RARE);
        before = l.chance;
    }
    ck_assert_double_eq(before, 1);
    ck_assert(low_of(stand(3, 216, 90, 0.9, 0.4)).low);
    ck_assert(!low_of(stand(3, 216, 180, 0.9, 0.4)).low);
    /* One tray and nine trays with the same share: nine say more. */
    ck_assert_double_gt(low_of(stand(1, 72, 50, 0.9, 0.3)).chance, low_of(stand(9, 648, 450, 0.9, 0.3)).chance);
    /* Parts of trays: 100 cells in three trays. */
    struct cot_check_low part = low_of(stand(3, 100, 60, 0.9, 0.3)), whole = low_of(stand(3, 102, 61, 0.9, 0.3));
    ck_assert_double_eq_tol(part.chance, whole.chance, 0.003);
    ck_assert_double_eq_tol(part.expected / 100, whole.expected / 102, 1e-9);
    struct cot_check_low large = low_of(stand(1000, 1000000, 600000, 0.9, 0.3));
    ck_assert(large.low && large.expected > 800000);
}
END_TEST

START_TEST(refused)
{
    struct cot_check_low out;
    double shares;
    struct cot_check_stand good = stand(3, 216, 180, 0.9, 0.4), bad[] = {
                                                                    stand(0, 216, 180, 0.9, 0.4),
                                                                    stand(3, 2, 1, 0.9, 0.4),
                                                                    stand(3, 216, 217, 0.9, 0.4),
                                                                    stand(3, 216, -1, 0.9, 0.4),
                                                                    stand(3, 216, 180, 1, 0.4),
                                                                    stand(3, 216, 180, NAN, 0.4),
                                                                    stand(3, 216, 180, 0.9, NAN),
                                                                    stand(3, 216, 180, 0.9, -1),
                                                                    stand(1, INT64_C(1) << 40, 1, 0.9, 1),
                                                                };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        ck_assert_int_eq(cot_check_low(&bad[i], spread.rho_weight, &out, &fault), COT_INVALID);
        ck_assert_int_eq(cot_check_shares(&bad[i], &good, spread.rho_weight, &shares, &fault), COT_INVALID);
        ck_assert_int_eq(cot_check_shares(&good, &bad[i], spread.rho_weight, &shares, &fault), COT_INVALID);
    }
    spread.rho_weight[0] = NAN;
    ck_assert_int_eq(cot_check_low(&good, spread.rho_weight, &out, &fault), COT_INVALID);
}
END_TEST

static double shares(const struct cot_check_stand *poor, struct cot_check_stand other)
{
    double out;
    ck_assert_int_eq(cot_check_shares(poor, &other, spread.rho_weight, &out, &fault), COT_OK);
    ck_assert(out >= -20 && out <= 20);
    return out;
}

START_TEST(evidence)
{
    struct cot_check_stand poor = stand(4, 288, 150, 0.92, 0.4);
    /* Another batch as poor as this one shares what made it so; one as good as its lot does not. */
    ck_assert_double_gt(shares(&poor, stand(4, 288, 150, 0.92, 0.4)), COT_CHECK_EVIDENCE);
    ck_assert_double_lt(shares(&poor, stand(4, 288, 265, 0.92, 0.4)), -COT_CHECK_EVIDENCE);
    /* Of a lot that is poor by its own test, a poor stand says nothing of the kind: it was expected. */
    ck_assert_double_lt(shares(&poor, stand(4, 288, 150, 0.52, 0.4)), 0);
    /* A few cells say little. */
    ck_assert_double_lt(fabs(shares(&poor, stand(1, 3, 2, 0.92, 0.4))), COT_CHECK_EVIDENCE);
    /* It falls as the other batch does better. */
    double before = 21;
    for (int64_t k = 100; k <= 288; k += 4) {
        double now = shares(&poor, stand(4, 288, k, 0.92, 0.4));
        ck_assert(now <= before + 1e-9);
        before = now;
    }
    /* A batch that stands as expected has nothing to share. */
    struct cot_check_stand fine = stand(4, 288, 265, 0.92, 0.4);
    ck_assert_double_lt(fabs(shares(&fine, stand(4, 288, 150, 0.92, 0.4))), COT_CHECK_EVIDENCE);
}
END_TEST

/* Several plants in a cell: what was seen is carried to the seeds by the cell's own rule. */
static double two_of_three(const void *context, double s)
{
    (void)context;
    return s * s * (3 - 2 * s);
}

START_TEST(cells_of_several)
{
    struct cot_check_stand s = stand(4, 288, 200, 0.9, 0.3);
    s.cell = two_of_three;
    struct cot_check_low l = low_of(s);
    ck_assert_double_gt(l.expected, 0.93 * 288);
    ck_assert(l.low);
    struct cot_check_stand same = s;
    ck_assert_double_gt(shares(&s, same), COT_CHECK_EVIDENCE);
}
END_TEST

START_TEST(causes)
{
    static const double yes = 5, no = -5, open = 0.5;
    static const struct {
        size_t lot, day;
        double lot_evidence, day_evidence;
        enum cot_points want;
    } rows[] = {
        {0, 0, 0, 0, COT_POINTS_NONE},       {1, 0, yes, 0, COT_POINTS_SEED},    {1, 0, no, 0, COT_POINTS_HOUSE},
        {0, 1, 0, yes, COT_POINTS_HOUSE},    {0, 1, 0, no, COT_POINTS_SEED},     {2, 2, yes, no, COT_POINTS_SEED},
        {2, 2, no, yes, COT_POINTS_HOUSE},   {2, 2, yes, yes, COT_POINTS_BOTH},  {2, 2, no, no, COT_POINTS_BATCH},
        {2, 0, open, 0, COT_POINTS_UNSURE},  {0, 2, 0, open, COT_POINTS_UNSURE}, {2, 2, open, open, COT_POINTS_UNSURE},
        {2, 2, open, yes, COT_POINTS_HOUSE}, {2, 2, yes, open, COT_POINTS_SEED}, {2, 2, open, no, COT_POINTS_SEED},
        {2, 2, no, open, COT_POINTS_HOUSE},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        enum cot_points got = cot_check_cause(rows[i].lot, rows[i].lot_evidence, rows[i].day, rows[i].day_evidence);
        ck_assert_msg(got == rows[i].want, "row %zu: %s", i, cot_points_word(got));
    }
    ck_assert_str_eq(cot_points_word(COT_POINTS_NONE), "can't tell: no other batch to compare");
    ck_assert_str_eq(cot_points_word(COT_POINTS_SEED), "points at the seed");
    ck_assert_str_eq(cot_points_word(COT_POINTS_HOUSE), "points at the house");
}
END_TEST

/* Batches drawn as the model says: COT_CHECK_RARE of them are called low, or fewer (plants are whole). */
START_TEST(false_alarms_are_rare)
{
    struct dice d = dice_new("low_false_alarms");
    int alarms = 0, rounds = 4000;
    for (int round = 0; round < rounds; round++) {
        double u = dice_real(&d), x = cot_odds_of_rate(0.9) + 0.45 * cot_phi_inv(dice_real(&d));
        double q = cot_rate_of_odds(x);
        int r = 0;
        while (r < COT_RHO_POINTS - 1 && u > spread.rho_weight[r]) u -= spread.rho_weight[r++];
        double weight = 1 / cot_rho_point[r] - 1;
        int64_t usable = 0;
        for (int i = 0; i < 3; i++) usable += cot_betabinom_quantile(50, q * weight, (1 - q) * weight, dice_real(&d));
        alarms += low_of(stand(3, 150, usable, 0.9, 0.45)).low;
    }
    printf("%d of %d batches with nothing amiss were called low\n", alarms, rounds);
    ck_assert_int_le(alarms, 80); /* 40 expected; 80 lies six standard deviations above */
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 60);
    tcase_add_checked_fixture(c, setup, NULL);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/check/low");
    add(s, "known", known_rate);
    add(s, "falls", falls_with_usable);
    add(s, "refused", refused);
    add(s, "evidence", evidence);
    add(s, "several", cells_of_several);
    add(s, "causes", causes);
    add(s, "alarms", false_alarms_are_rare);
    return s;
}
