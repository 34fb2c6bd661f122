/* server/core/check/trays.c: against a plain sum over rates, and on drawn batches with nothing amiss. */
#include <math.h>
#include <stdlib.h>
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

static enum cot_err check(struct cot_check_tray *t, size_t n)
{
    fault = (struct cot_fault){0};
    return cot_check_trays(t, n, spread.rho_weight, &fault);
}

/* The same by a sum over equal steps of the rate itself. */
#define STEPS 3000
static double plain(const struct cot_check_tray *t, size_t n, size_t of)
{
    double top = -INFINITY, all = 0, le = 0, ge = 0;
    static double like[COT_RHO_POINTS][STEPS];
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double weight = 1 / cot_rho_point[r] - 1;
        for (int k = 0; k < STEPS; k++) {
            double q = (k + 0.5) / STEPS, l = log(spread.rho_weight[r]);
            for (size_t i = 0; i < n; i++)
                if (i != of) l += cot_betabinom_log_pmf(t[i].looked, q * weight, (1 - q) * weight, t[i].usable);
            like[r][k] = l;
            if (l > top) top = l;
        }
    }
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double weight = 1 / cot_rho_point[r] - 1;
        for (int k = 0; k < STEPS; k++) {
            double q = (k + 0.5) / STEPS, w = exp(like[r][k] - top);
            if (w < 1e-14) continue;
            all += w;
            le += w * cot_betabinom_le(t[of].looked, q * weight, (1 - q) * weight, t[of].usable);
            ge += w * cot_betabinom_ge(t[of].looked, q * weight, (1 - q) * weight, t[of].usable);
        }
    }
    return fmin(1, 2 * fmin(le, ge) / all);
}

static void hold_against_plain(struct cot_check_tray *t, size_t n)
{
    ck_assert_int_eq(check(t, n), COT_OK);
    for (size_t i = 0; i < n; i++) {
        double want = plain(t, n, i);
        if (!(fabs(t[i].chance - want) <= 2e-6 + 1e-3 * want))
            ck_abort_msg("tray %d, %d of %d: %.9g, not %.9g", t[i].tray, t[i].usable, t[i].looked, t[i].chance, want);
        ck_assert_int_eq(t[i].unlike, t[i].chance * (double)n < COT_CHECK_RARE);
    }
}

START_TEST(against_a_plain_sum)
{
    struct cot_check_tray alike[] = {{.tray = 1, .looked = 72, .usable = 66},
                                     {.tray = 2, .looked = 72, .usable = 70},
                                     {.tray = 5, .looked = 72, .usable = 61},
                                     {.tray = 9, .looked = 72, .usable = 66}};
    struct cot_check_tray one_poor[] = {{.tray = 1, .looked = 72, .usable = 66},
                                        {.tray = 2, .looked = 72, .usable = 70},
                                        {.tray = 3, .looked = 36, .usable = 34},
                                        {.tray = 4, .looked = 72, .usable = 67},
                                        {.tray = 5, .looked = 72, .usable = 15}};
    struct cot_check_tray two[] = {{.tray = 1, .looked = 72, .usable = 70}, {.tray = 2, .looked = 72, .usable = 10}};
    struct cot_check_tray full[] = {{.tray = 1, .looked = 50, .usable = 50},
                                    {.tray = 2, .looked = 50, .usable = 50},
                                    {.tray = 3, .looked = 50, .usable = 0}};
    struct cot_check_tray small[] = {{.tray = 1, .looked = 1, .usable = 0}, {.tray = 2, .looked = 1, .usable = 1}};
    hold_against_plain(alike, 4);
    ck_assert(!alike[0].unlike && !alike[1].unlike && !alike[2].unlike);
    ck_assert_double_eq(alike[0].chance, alike[3].chance);
    hold_against_plain(one_poor, 5);
    ck_assert(one_poor[4].unlike);
    for (int i = 0; i < 4; i++) ck_assert(!one_poor[i].unlike);
    hold_against_plain(two, 2);
    hold_against_plain(full, 3);
    ck_assert(full[2].unlike);
    hold_against_plain(small, 2);
}
END_TEST

START_TEST(random_against_a_plain_sum)
{
    struct dice d = dice_new("random_against_a_plain_sum");
    for (int round = 0; round < 6; round++) {
        struct cot_check_tray t[4];
        size_t n = (size_t)dice_int(&d, 2, 4);
        for (size_t i = 0; i < n; i++) {
            t[i] = (struct cot_check_tray){.tray = (int32_t)i + 1, .looked = (int32_t)dice_int(&d, 1, 150)};
            t[i].usable = (int32_t)dice_int(&d, 0, t[i].looked);
        }
        hold_against_plain(t, n);
    }
}
END_TEST

START_TEST(one_or_none)
{
    struct cot_check_tray t = {.tray = 3, .looked = 72, .usable = 1};
    ck_assert_int_eq(check(&t, 0), COT_OK);
    ck_assert_int_eq(check(&t, 1), COT_OK);
    ck_assert_double_eq(t.chance, 1);
    ck_assert(!t.unlike);
}
END_TEST

START_TEST(refused)
{
    static const int32_t bad[][2] = {{0, 0}, {-1, 0}, {72, -1}, {72, 73}, {COT_CHECK_CELLS_MOST + 1, 5}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct cot_check_tray t[2] = {{.tray = 1, .looked = 72, .usable = 60},
                                      {.tray = 2, .looked = bad[i][0], .usable = bad[i][1]}};
        ck_assert_int_eq(check(t, 2), COT_INVALID);
        ck_assert_ptr_nonnull(strstr(fault.msg, "tray 2: "));
    }
    struct cot_check_tray *many = calloc(COT_CHECK_TRAYS_MOST + 1, sizeof *many);
    ck_assert_ptr_nonnull(many);
    for (int i = 0; i <= COT_CHECK_TRAYS_MOST; i++)
        many[i] = (struct cot_check_tray){.tray = i + 1, .looked = 72, .usable = 60 + i % 9};
    ck_assert_int_eq(check(many, COT_CHECK_TRAYS_MOST + 1), COT_TOO_LARGE);
    many[70].usable = 0;
    ck_assert_int_eq(check(many, COT_CHECK_TRAYS_MOST), COT_OK);
    for (int i = 0; i < COT_CHECK_TRAYS_MOST; i++) sure(many[i].unlike == (i == 70));
    static const double weights[] = {NAN, -0.1, 0.5, INFINITY};
    for (size_t i = 0; i < sizeof weights / sizeof *weights; i++) {
        spread.rho_weight[2] = weights[i];
        ck_assert_int_eq(check(many, 2), COT_INVALID);
    }
    free(many);
}
END_TEST

/* Batches drawn as the model says, nothing amiss: COT_CHECK_RARE of them have a tray called unlike, or fewer. */
START_TEST(false_alarms_are_rare)
{
    struct dice d = dice_new("false_alarms_are_rare");
    int alarms = 0, rounds = 500;
    for (int round = 0; round < rounds; round++) {
        struct cot_check_tray t[6];
        double u = dice_real(&d), q = 0.6 + 0.38 * dice_real(&d);
        int r = 0;
        while (r < COT_RHO_POINTS - 1 && u > spread.rho_weight[r]) u -= spread.rho_weight[r++];
        double weight = 1 / cot_rho_point[r] - 1;
        size_t n = (size_t)dice_int(&d, 2, 6);
        for (size_t i = 0; i < n; i++) {
            t[i] = (struct cot_check_tray){.tray = (int32_t)i + 1, .looked = 50};
            t[i].usable = (int32_t)cot_betabinom_quantile(50, q * weight, (1 - q) * weight, dice_real(&d));
        }
        ck_assert_int_eq(check(t, n), COT_OK);
        bool any = false;
        for (size_t i = 0; i < n; i++) any = any || t[i].unlike;
        alarms += any;
    }
    printf("%d of %d batches with nothing amiss had a tray called unlike\n", alarms, rounds);
    ck_assert_int_le(alarms, 18); /* 5 expected at most; 18 lies six standard deviations above */
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 120);
    tcase_add_checked_fixture(c, setup, NULL);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/check/trays");
    add(s, "plain", against_a_plain_sum);
    add(s, "random", random_against_a_plain_sum);
    add(s, "one", one_or_none);
    add(s, "refused", refused);
    add(s, "alarms", false_alarms_are_rare);
    return s;
}
