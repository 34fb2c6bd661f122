/* server/core/stand/post.c, and how calc.c feeds it: against sums over everything. */
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "prob/prob.h"
#include "stand/calc.h"
#include "../../main.h"
#include "../seed.h"

#define CELLS_MOST 500

/* One batch of trays alike, some counted; brute force over x (fine steps), rho, and every number of plants. */
struct exact {
    struct cot_odds before;
    double rho_weight[COT_RHO_POINTS];
    cot_usable_of *usable;
    int trays, cells; /* of a tray */
    int counted;      /* trays, the first ones */
    int looked[8], fit[8];
    double emerged;                /* 1: not early */
    double le[CELLS_MOST + 1];     /* P(X <= k) of the cells not seen and blanks to come */
    double weight[COT_RHO_POINTS]; /* rho afterwards */
    double x_mean, x_sd;
};

static void convolve(const double *one, int n, double *sum, int *top)
{
    double next[CELLS_MOST + 1] = {0};
    for (int i = 0; i <= *top; i++)
        for (int k = 0; k <= n; k++) next[i + k] += sum[i] * one[k];
    *top += n;
    memcpy(sum, next, sizeof next);
}

static void terms(int n, double a, double b, double *out)
{
    for (int k = 0; k <= n; k++) out[k] = cot_betabinom_pmf(n, a, b, k);
}

/* Plants of the cells not seen, given rate and rho. */
static int unseen_terms(const struct exact *e, double q, double rho, double *out)
{
    double phi = 1 / rho - 1, one[CELLS_MOST + 1];
    int top = 0;
    memset(out, 0, (CELLS_MOST + 1) * sizeof *out);
    out[0] = 1;
    for (int t = 0; t < e->trays; t++) {
        int seen = t < e->counted ? e->looked[t] : 0, fit = t < e->counted ? e->fit[t] : 0;
        if (seen == e->cells) continue;
        terms(e->cells - seen, q * phi + fit, (1 - q) * phi + seen - fit, one);
        convolve(one, e->cells - seen, out, &top);
    }
    for (int t = 0; t < e->counted && e->emerged < 1; t++) {
        double p = q * (1 - e->emerged) / (1 - q * e->emerged);
        int n = e->looked[t] - e->fit[t];
        terms(n, p * phi, (1 - p) * phi, one);
        convolve(one, n, out, &top);
    }
    return top;
}

static double likelihood(const struct exact *e, double q, double rho)
{
    double phi = 1 / rho - 1, p = 1;
    for (int t = 0; t < e->counted; t++)
        p *= cot_betabinom_pmf(e->looked[t], q * e->emerged * phi, (1 - q * e->emerged) * phi, e->fit[t]);
    return p;
}

static void brute_force(struct exact *e)
{
    double all = 0, first = 0, second = 0, pmf[CELLS_MOST + 1] = {0};
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        for (int i = -140; i <= 140; i++) {
            double z = i / 20.0, x = e->before.mean + z * e->before.sd, s = cot_rate_of_odds(x), out[CELLS_MOST + 1];
            double q = e->usable ? e->usable(NULL, s) : s;
            double w = exp(-0.5 * z * z) * e->rho_weight[r] * likelihood(e, q, cot_rho_point[r]);
            e->weight[r] += w;
            all += w;
            first += w * x;
            second += w * x * x;
            if (w < 1e-300) continue;
            int top = unseen_terms(e, q, cot_rho_point[r], out);
            for (int k = 0; k <= top; k++) pmf[k] += w * out[k];
        }
    }
    double sum = 0;
    for (int k = 0; k <= CELLS_MOST; k++) e->le[k] = sum += pmf[k] / all;
    for (int r = 0; r < COT_RHO_POINTS; r++) e->weight[r] /= all;
    e->x_mean = first / all;
    e->x_sd = sqrt(second / all - e->x_mean * e->x_mean);
}

/* The same by the product. */
static void by_product(const struct exact *e, struct cot_stand *s, struct cot_learned *learned)
{
    struct cot_tray_count counts[8];
    struct cot_work work = {.what = COT_WORK_COUNT, .day = 20, .counts = counts, .count_len = (size_t)e->counted};
    struct cot_stand_in in = {.trays = e->trays,
                              .tray_cells = e->cells,
                              .cells = e->trays * e->cells,
                              .before = e->before,
                              .usable = e->usable,
                              .usable_share = 0.95,
                              .count_day = 10,
                              .work = &work,
                              .work_len = e->counted > 0};
    memcpy(in.rho_weight, e->rho_weight, sizeof in.rho_weight);
    for (int t = 0; t < e->counted; t++)
        counts[t] = (struct cot_tray_count){t + 1, e->looked[t], e->fit[t], e->looked[t] - e->fit[t], 0, 0};
    if (e->emerged < 1) { /* half have come by day 12, none of it in doubt */
        in.emergence = (struct cot_emergence){.median = 20 / exp(0.25 * cot_phi_inv(e->emerged)), .spread = 0.25};
        in.count_day = 30;
    }
    *s = (struct cot_stand){.counted = COT_DAY_NONE};
    ck_assert_int_eq(cot_stand_sum(&in, s, learned), COT_OK);
}

static double three_seeds(const void *context, double s)
{
    (void)context;
    return cot_binom_ge(3, s, 2);
}

static double worst_of(struct exact *e, const char *what)
{
    struct cot_stand s;
    struct cot_learned learned;
    double worst = 0;
    if (e->emerged == 0) e->emerged = 1;
    brute_force(e);
    by_product(e, &s, &learned);
    for (int k = 0; k <= s.left.cells; k++) {
        double off = fabs(cot_mix_le(&s.left, k) - e->le[k]);
        if (off > worst) worst = off;
    }
    printf("%s: every P(X <= k) within %.4f; x off by %.5f, its sd by %.5f\n", what, worst,
           learned.post.x.mean - e->x_mean, learned.post.x.sd - e->x_sd);
    fflush(stdout);
    for (int r = 0; r < COT_RHO_POINTS; r++) ck_assert_double_eq_tol(learned.post.weight[r], e->weight[r], 2e-4);
    ck_assert_double_eq_tol(learned.post.x.mean, e->x_mean, 2e-4);
    ck_assert_double_eq_tol(learned.post.x.sd, e->x_sd, 2e-4);
    return worst;
}

static struct exact some(int trays, int cells)
{
    struct cot_spread spread;
    cot_spread_assumed(&spread);
    struct exact e = {.before = {2.0, 0.45}, .trays = trays, .cells = cells};
    memcpy(e.rho_weight, spread.rho_weight, sizeof e.rho_weight);
    return e;
}

static void count(struct exact *e, int looked, int fit)
{
    e->looked[e->counted] = looked;
    e->fit[e->counted++] = fit;
}

START_TEST(nothing_counted)
{
    struct exact e = some(3, 50);
    ck_assert_double_le(worst_of(&e, "3 trays of 50, none counted"), 0.008);
}
END_TEST

START_TEST(whole_trays)
{
    struct exact e = some(4, 50);
    count(&e, 50, 44);
    count(&e, 50, 39);
    ck_assert_double_le(worst_of(&e, "2 of 4 trays of 50, alike"), 0.008);
    e = some(6, 40);
    count(&e, 40, 40);
    count(&e, 40, 22);
    count(&e, 40, 37);
    ck_assert_double_le(worst_of(&e, "3 of 6 trays of 40, unlike"), 0.018);
    e = some(5, 50);
    count(&e, 50, 50);
    count(&e, 50, 50);
    count(&e, 50, 50);
    ck_assert_double_le(worst_of(&e, "3 of 5 trays of 50, full"), 0.04);
    e = some(3, 50);
    count(&e, 50, 0);
    ck_assert_double_le(worst_of(&e, "1 of 3 trays of 50, nothing came"), 0.06);
}
END_TEST

START_TEST(part_of_trays)
{
    struct exact e = some(3, 50);
    count(&e, 20, 18);
    count(&e, 30, 20);
    ck_assert_double_le(worst_of(&e, "parts of 2 of 3 trays of 50"), 0.012);
    e = some(1, 72);
    count(&e, 24, 23);
    ck_assert_double_le(worst_of(&e, "a third of one tray of 72"), 0.012);
}
END_TEST

START_TEST(several_seeds)
{
    struct exact e = some(3, 40);
    e.usable = three_seeds;
    e.before.mean = 1;
    count(&e, 40, 33);
    ck_assert_double_le(worst_of(&e, "two of three seeds, 1 of 3 trays of 40"), 0.01);
}
END_TEST

START_TEST(counted_early)
{
    struct exact e = some(3, 40);
    e.emerged = 0.8;
    count(&e, 40, 28);
    count(&e, 40, 31);
    ck_assert_double_le(worst_of(&e, "2 of 3 trays of 40, 80 % come up"), 0.02);
    e = some(2, 40);
    e.emerged = 0.5;
    count(&e, 40, 17);
    ck_assert_double_le(worst_of(&e, "1 of 2 trays of 40, half come up"), 0.02);
}
END_TEST

/* Random small cases. */
START_TEST(any_small_case)
{
    struct dice d = dice_new("any_small_case");
    for (int round = 0; round < 12; round++) {
        char what[80];
        struct exact e = some((int)dice_int(&d, 1, 4), (int)dice_int(&d, 10, 50));
        e.before = (struct cot_odds){3 * dice_real(&d) - 0.5, 0.2 + 0.5 * dice_real(&d)};
        int n = (int)dice_int(&d, 0, e.trays);
        double x = e.before.mean + e.before.sd * (2 * dice_real(&d) - 1);
        for (int t = 0; t < n; t++) {
            int looked = dice_int(&d, 0, 2) ? e.cells : (int)dice_int(&d, 1, e.cells);
            double rate = cot_ibeta_inv(20 * cot_rate_of_odds(x), 20 * cot_rate_of_odds(-x), dice_real(&d));
            count(&e, looked, (int)cot_binom_quantile(looked, rate, dice_real(&d)));
        }
        snprintf(what, sizeof what, "%d of %d trays of %d", n, e.trays, e.cells);
        ck_assert_double_le(worst_of(&e, what), 0.05);
    }
}
END_TEST

START_TEST(without_sense)
{
    struct cot_stand s = {.counted = COT_DAY_NONE};
    struct cot_spread spread;
    cot_spread_assumed(&spread);
    struct cot_stand_in good = {.trays = 2, .tray_cells = 50, .cells = 100, .before = {2, 0.4}, .usable_share = 0.95},
                        in;
    memcpy(good.rho_weight, spread.rho_weight, sizeof good.rho_weight);
    ck_assert_int_eq(cot_stand_sum(&good, &s, NULL), COT_OK);
    in = good, in.before.mean = NAN;
    ck_assert_int_eq(cot_stand_sum(&in, &s, NULL), COT_INVALID);
    in = good, in.before.sd = 0;
    ck_assert_int_eq(cot_stand_sum(&in, &s, NULL), COT_INVALID);
    in = good, in.rho_weight[2] = NAN;
    ck_assert_int_eq(cot_stand_sum(&in, &s, NULL), COT_INVALID);
    in = good, in.rho_weight[2] = 7;
    ck_assert_int_eq(cot_stand_sum(&in, &s, NULL), COT_INVALID);
    in = good, in.cells = -1;
    ck_assert_int_eq(cot_stand_sum(&in, &s, NULL), COT_INVALID);
    in = good, in.trays = 0;
    ck_assert_int_eq(cot_stand_sum(&in, &s, NULL), COT_INVALID);
    in = good, in.usable_share = 1.5;
    ck_assert_int_eq(cot_stand_sum(&in, &s, NULL), COT_INVALID);
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 120);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/stand_post");
    add(s, "nothing", nothing_counted);
    add(s, "whole", whole_trays);
    add(s, "part", part_of_trays);
    add(s, "several", several_seeds);
    add(s, "early", counted_early);
    add(s, "any", any_small_case);
    add(s, "nonsense", without_sense);
    return s;
}
