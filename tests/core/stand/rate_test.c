/* server/core/stand/rate.c */
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "cotyledger/core/rate.h"
#include "prob/prob.h"
#include "../../main.h"
#include "../seed.h"

/* --- A seed's odds ---------------------------------------------------------------------------------------------- */

/* Of whole a, b the mean and variance of log(g / (1-g)) are sums of 1/k and 1/k^2 (DLMF 5.4.14, 5.15.2). */
static void exact_odds(int a, int b, struct cot_odds *out)
{
    double mean = 0, var = 3.14159265358979323846 * 3.14159265358979323846 / 3;
    for (int k = 1; k < a; k++) mean += 1.0 / k, var -= 1.0 / k / k;
    for (int k = 1; k < b; k++) mean -= 1.0 / k, var -= 1.0 / k / k;
    *out = (struct cot_odds){mean, sqrt(var)};
}

START_TEST(odds_of_whole_numbers)
{
    static const int of[][2] = {{1, 1}, {93, 9}, {9, 93}, {373, 29}, {401, 1}, {2, 1000}, {50000, 50}, {3, 2}};
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
        struct cot_odds want, got;
        exact_odds(of[i][0], of[i][1], &want);
        cot_odds_of_seed(of[i][0], of[i][1], 1, &got);
        ck_assert_double_eq_tol(got.mean, want.mean, 1e-9);
        ck_assert_double_eq_tol(got.sd, want.sd, 1e-9);
    }
}
END_TEST

/* With a factor, against a plain sum over g. */
START_TEST(odds_with_a_factor)
{
    static const double of[][3] = {{93, 9, 0.95}, {373, 29, 0.95}, {2, 3, 0.5}, {401, 1, 0.9}, {1.5, 1.5, 0.999}};
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
        double a = of[i][0], b = of[i][1], c = of[i][2], all = 0, first = 0, second = 0;
        struct cot_odds got;
        for (int j = 0; j < 400000; j++) {
            double g = (j + 0.5) / 400000, w = exp((a - 1) * log(g) + (b - 1) * log1p(-g) - cot_lbeta(a, b));
            double x = log(g * c / (1 - g * c));
            all += w;
            first += w * x;
            second += w * x * x;
        }
        cot_odds_of_seed(a, b, c, &got);
        ck_assert_double_eq_tol(got.mean, first / all, 1e-5);
        ck_assert_double_eq_tol(got.sd, sqrt(second / all - first / all * (first / all)), 1e-5);
    }
}
END_TEST

START_TEST(odds_without_sense)
{
    static const double of[][3] = {{0, 1, 1},   {1, -1, 1},       {1, 1, 0},  {1, 1, 1.1},
                                   {NAN, 1, 1}, {1, INFINITY, 1}, {1, 1, NAN}};
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
        struct cot_odds got;
        cot_odds_of_seed(of[i][0], of[i][1], of[i][2], &got);
        ck_assert(isnan(got.mean) && isnan(got.sd));
    }
}
END_TEST

START_TEST(spread_assumed)
{
    struct cot_spread s;
    double sum = 0, below = 0;
    cot_spread_assumed(&s);
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        sum += s.rho_weight[r];
        if (cot_rho_point[r] < COT_RHO_CENTRE) below += s.rho_weight[r];
        if (r > 0) ck_assert_double_eq_tol(cot_rho_point[r] / cot_rho_point[r - 1], pow(200, 1 / 8.0), 1e-12);
    }
    ck_assert_double_eq_tol(sum, 1, 1e-12);
    ck_assert_double_eq_tol(below, 0.5, 0.03);
    ck_assert(s.batches == 0 && s.shift == 0);
}
END_TEST

/* --- Mixtures --------------------------------------------------------------------------------------------------- */
static struct cot_mix random_mix(struct dice *d, int64_t cells)
{
    struct cot_mix m = {.cells = cells};
    double sum = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        m.part[r].a = exp(8 * dice_real(d) - 1.5);
        m.part[r].b = exp(8 * dice_real(d) - 1.5);
        sum += m.part[r].weight = dice_int(d, 0, 3) ? dice_real(d) : 0;
    }
    if (sum == 0) sum = m.part[0].weight = 1;
    for (int r = 0; r < COT_RHO_POINTS; r++) m.part[r].weight /= sum;
    return m;
}

/* Every P(X <= k), quantile, mean and variance against the plain sum of terms. */
START_TEST(mix_is_the_sum_of_its_terms)
{
    struct dice d = dice_new("mix_is_the_sum_of_its_terms");
    for (int round = 0; round < 60; round++) {
        struct cot_mix m = random_mix(&d, dice_int(&d, 1, 900));
        double sum = 0, mean = 0, square = 0;
        int64_t level[101], at = 0;
        cot_mix_levels(&m, 101, level);
        for (int64_t k = 0; k <= m.cells; k++) {
            double term = 0;
            for (int r = 0; r < COT_RHO_POINTS; r++)
                if (m.part[r].weight > 0)
                    term += m.part[r].weight * cot_betabinom_pmf(m.cells, m.part[r].a, m.part[r].b, k);
            sum += term;
            mean += term * (double)k;
            square += term * (double)k * (double)k;
            sure(fabs(cot_mix_le(&m, k) - sum) <= 2e-9);
            for (; at < 101 && cot_mix_le(&m, k) >= cot_round9((2 * (double)at + 1) / 202); at++) {
                sure(level[at] == k);
                sure(cot_mix_quantile(&m, (2 * (double)at + 1) / 202) == k);
            }
        }
        sure(at == 101);
        const double some[] = {0.001, 0.1, 0.5, 0.5, 0.97};
        int64_t found[5];
        cot_mix_quantiles(&m, some, 5, found);
        for (int i = 0; i < 5; i++) sure(found[i] == cot_mix_quantile(&m, some[i]));
        sure(fabs(cot_mix_mean(&m) - mean) <= 1e-9 * (double)m.cells);
        sure(fabs(cot_mix_variance(&m) - (square - mean * mean)) <= 1e-8 * (double)m.cells * (double)m.cells);
    }
}
END_TEST

START_TEST(matched_part)
{
    struct cot_mix m = {.cells = 720};
    m.part[3].weight = 1;
    cot_mix_match(720, 640, 900, &m.part[3]);
    ck_assert_double_eq_tol(cot_mix_mean(&m), 640, 1e-9);
    ck_assert_double_eq_tol(cot_mix_variance(&m), 900, 1e-6);
    cot_mix_match(720, 640, 1, &m.part[3]); /* no beta-binomial is narrower than a binomial */
    ck_assert_double_eq_tol(cot_mix_variance(&m), 640 * 80 / 720.0, 1e-3);
    cot_mix_match(720, 720, 0, &m.part[3]);
    ck_assert_int_eq(cot_mix_quantile(&m, 0.01), 720);
    cot_mix_match(720, 0, 0, &m.part[3]);
    ck_assert_int_eq(cot_mix_quantile(&m, 0.99), 0);
    m.cells = 1;
    cot_mix_match(1, 0.25, 0.1875, &m.part[3]);
    ck_assert_double_eq_tol(cot_mix_le(&m, 0), 0.75, 1e-9);
}
END_TEST

START_TEST(mix_without_sense)
{
    struct cot_mix m = {.cells = 0};
    m.part[0] = (struct cot_mix_part){1, 2, 2};
    int64_t level[3] = {7, 7, 7};
    ck_assert(cot_mix_le(&m, -1) == 0 && cot_mix_le(&m, 0) == 1 && cot_mix_quantile(&m, 0.5) == 0);
    cot_mix_levels(&m, 3, level);
    ck_assert(level[0] == 0 && level[2] == 0);
    m.cells = 10;
    ck_assert_int_eq(cot_mix_quantile(&m, NAN), 0);
    m.part[0].a = NAN;
    ck_assert(isnan(cot_mix_le(&m, 3)) && cot_mix_quantile(&m, 0.5) == 0);
    m.part[0] = (struct cot_mix_part){NAN, 2, 2};
    ck_assert(isnan(cot_mix_le(&m, 3)));
    m.part[0] = (struct cot_mix_part){1, 0, 2};
    ck_assert(isnan(cot_mix_le(&m, 3)));
    cot_mix_match(10, NAN, 1, &m.part[0]);
    ck_assert(isnan(m.part[0].a) && isnan(m.part[0].b));
}
END_TEST

/* More cells than are walked through one by one: the rate's quantiles, widened. */
START_TEST(many_cells)
{
    struct cot_mix m = {.cells = 1000000000};
    m.part[2] = (struct cot_mix_part){1, 90, 10};
    double middle = cot_ibeta_inv(90, 10, 0.5), low = cot_ibeta_inv(90, 10, 0.1);
    ck_assert_double_eq_tol((double)cot_mix_quantile(&m, 0.5) / 1e9, middle, 1e-4);
    ck_assert_double_eq_tol((double)cot_mix_quantile(&m, 0.1) / 1e9, low, 1e-3);
    ck_assert_double_eq_tol(cot_mix_le(&m, (int64_t)(low * 1e9)), 0.1, 1e-3);
}
END_TEST

/* --- Before any count, by brute force ----------------------------------------------------------------------------- */
#define CELLS_MOST 400

/* Plants of `trays` trays given the cells' rate and their likeness: one tray's terms, convolved. */
static void convolve(int trays, int cells, double q, double rho, double *out)
{
    double one[CELLS_MOST + 1], next[CELLS_MOST + 1], a = q * (1 / rho - 1), b = (1 - q) * (1 / rho - 1);
    for (int k = 0; k <= cells; k++) one[k] = cot_betabinom_pmf(cells, a, b, k);
    memset(out, 0, (CELLS_MOST + 1) * sizeof *out);
    out[0] = 1;
    for (int t = 0; t < trays; t++) {
        memset(next, 0, sizeof next);
        for (int i = 0; i <= t * cells; i++)
            for (int k = 0; k <= cells; k++) next[i + k] += out[i] * one[k];
        memcpy(out, next, sizeof next);
    }
}

static double two_of_three(const void *context, double s)
{
    (void)context;
    return cot_binom_ge(3, s, 2);
}

static double worst_before(const struct cot_odds *o, const struct cot_spread *s, int trays, int cells, bool multi)
{
    double exact[CELLS_MOST + 1] = {0}, all = 0, sum = 0, worst = 0;
    for (int i = -60; i <= 60; i++) {
        double z = i / 10.0, w = exp(-0.5 * z * z), x = cot_rate_of_odds(o->mean + z * o->sd);
        double q = multi ? two_of_three(NULL, x) : x;
        all += w;
        for (int r = 0; r < COT_RHO_POINTS; r++) {
            double terms[CELLS_MOST + 1];
            convolve(trays, cells, q, cot_rho_point[r], terms);
            for (int k = 0; k <= trays * cells; k++) exact[k] += w * s->rho_weight[r] * terms[k];
        }
    }
    struct cot_mix m;
    cot_mix_before(o, s->rho_weight, trays, cells, multi ? two_of_three : NULL, NULL, &m);
    for (int k = 0; k <= trays * cells; k++) {
        sum += exact[k] / all;
        double off = fabs(cot_mix_le(&m, k) - sum);
        if (off > worst) worst = off;
    }
    return worst;
}

/* Every P(X <= k) of the matched mixture is as near to the exact one as rate.h says. */
START_TEST(before_against_brute_force)
{
    static const struct {
        double mean, sd;
        int trays, cells;
        bool multi;
        double bound;
    } of[] = {{2.0, 0.4, 1, 50, false, 0.004}, {2.0, 0.4, 3, 24, false, 0.004}, {1.2, 0.6, 2, 30, true, 0.02},
              {3.0, 0.5, 4, 20, false, 0.006}, {0.0, 0.3, 2, 40, false, 0.002}, {-0.5, 0.5, 2, 20, true, 0.006},
              {3.0, 0.4, 3, 20, false, 0.005}, {-1., 0.4, 3, 20, true, 0.006},  {2.0, 0.6, 3, 20, false, 0.01},
              {2.0, 0.6, 3, 20, true, 0.03},   {2.0, 0.8, 3, 20, false, 0.02},  {2.0, 0.8, 3, 20, true, 0.05}};
    struct cot_spread s;
    cot_spread_assumed(&s);
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
        struct cot_odds o = {of[i].mean, of[i].sd};
        double worst = worst_before(&o, &s, of[i].trays, of[i].cells, of[i].multi);
        printf("before any count, case %zu: off by %.4f at most\n", i, worst);
        ck_assert_double_le(worst, of[i].bound);
    }
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
    Suite *s = suite_create("core/rate");
    add(s, "whole", odds_of_whole_numbers);
    add(s, "factor", odds_with_a_factor);
    add(s, "odds_nonsense", odds_without_sense);
    add(s, "spread", spread_assumed);
    add(s, "mix", mix_is_the_sum_of_its_terms);
    add(s, "matched", matched_part);
    add(s, "mix_nonsense", mix_without_sense);
    add(s, "many", many_cells);
    add(s, "brute_force", before_against_brute_force);
    return s;
}
