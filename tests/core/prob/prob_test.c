/* server/core/prob/: against sums in long double, and against each other. Published values: tests/reference. */
#include <math.h>

#include "prob/prob.h"
#include "../../main.h"
#include "../seed.h"

static long double choose_log(int64_t n, int64_t k)
{
    return lgammal((long double)n + 1) - lgammal((long double)k + 1) - lgammal((long double)(n - k) + 1);
}

static long double lbeta_long(long double a, long double b)
{
    return lgammal(a) + lgammal(b) - lgammal(a + b);
}

START_TEST(gamma_and_beta)
{
    ck_assert_double_eq_tol(cot_lgamma(1), 0, 1e-14);
    ck_assert_double_eq_tol(cot_lgamma(0.5), 0.57236494292470008707, 2e-15); /* log(pi) / 2 */
    ck_assert_double_eq_tol(cot_lgamma(11), 15.10441257307551529523, 1e-14); /* log 10! */
    for (double x = 0.01; x < 1e6; x *= 1.07) {
        double want = (double)lgammal(x);
        ck_assert_double_eq_tol(cot_lgamma(x), want, 4e-14 * fmax(1, fabs(want)));
    }
    for (double a = 0.01; a < 1e5; a *= 1.7) {
        for (double b = 0.01; b < 1e5; b *= 1.9) {
            double want = (double)lbeta_long(a, b);
            ck_assert_double_eq_tol(cot_lbeta(a, b), want, 1e-13 * fmax(1, fabs(want)));
        }
    }
    ck_assert_double_nan(cot_lgamma(0));
    ck_assert_double_nan(cot_lbeta(-1, 1));
    ck_assert_double_nan(cot_lbeta(1, 0));
}
END_TEST

START_TEST(incomplete_beta)
{
    /* Closed forms: I_x(1, b) = 1 - (1-x)^b, I_x(a, 1) = x^a, I_x(1/2, 1/2) = 2 asin(sqrt x) / pi (DLMF 8.17). */
    for (double x = 0.0005; x < 1; x += 0.01) {
        for (double c = 0.3; c < 300; c *= 1.9) {
            ck_assert_double_eq_tol(cot_ibeta(1, c, x), -expm1(c * log1p(-x)), 2e-14);
            ck_assert_double_eq_tol(cot_ibeta(c, 1, x), pow(x, c), 2e-14);
            ck_assert_double_eq_tol(cot_ibeta(c, 2 * c, x) + cot_ibeta(2 * c, c, 1 - x), 1, 1e-13);
        }
        ck_assert_double_eq_tol(cot_ibeta(0.5, 0.5, x), 2 * asin(sqrt(x)) / M_PI, 2e-14);
    }
    ck_assert_double_eq(cot_ibeta(2, 3, 0), 0);
    ck_assert_double_eq(cot_ibeta(2, 3, 1), 1);
    ck_assert_double_eq_tol(cot_ibeta(1e6, 1e6, 0.5), 0.5, 1e-11);
    ck_assert_double_nan(cot_ibeta(0, 1, 0.5));
    ck_assert_double_nan(cot_ibeta(1, -1, 0.5));
    ck_assert_double_nan(cot_ibeta(1, 1, 1.5));
    ck_assert_double_nan(cot_ibeta(1, 1, NAN));
}
END_TEST

START_TEST(incomplete_beta_inverse)
{
    struct dice d = dice_new("incomplete_beta_inverse");
    for (int i = 0; i < 20000; i++) {
        double a = exp(dice_real(&d) * 12 - 3), b = exp(dice_real(&d) * 12 - 3), p = dice_real(&d);
        double x = cot_ibeta_inv(a, b, p), back = cot_ibeta(a, b, x);
        /* Near 0 and 1 neighbouring numbers lie far apart in probability. */
        double below = cot_ibeta(a, b, nextafter(x, 0)), above = cot_ibeta(a, b, nextafter(x, 1));
        double step = above - below;
        if (!(fabs(back - p) <= 1e-12 + 2 * fabs(step)))
            ck_abort_msg("I(%.17g, %.17g) at %.17g: %.17g, not %.17g", a, b, x, back, p);
    }
    ck_assert_double_eq(cot_ibeta_inv(2, 3, 0), 0);
    ck_assert_double_eq(cot_ibeta_inv(2, 3, 1), 1);
    ck_assert_double_nan(cot_ibeta_inv(2, 3, -0.1));
    ck_assert_double_nan(cot_ibeta_inv(0, 3, 0.1));
}
END_TEST

static const int64_t sizes[] = {0, 1, 2, 20, 72, 500, 2880};
#define SIZES (sizeof sizes / sizeof sizes[0])

START_TEST(binomial)
{
    for (size_t s = 0; s < SIZES; s++) {
        int64_t n = sizes[s];
        for (double p = 0.0004; p < 1; p += 0.0499) {
            long double sum = 0;
            for (int64_t k = 0; k <= n; k++) {
                sure(fabs(cot_binom_ge(n, p, k) - (double)(1 - sum)) < 1e-13);
                sum +=
                    expl(choose_log(n, k) + (long double)k * logl(p) + (long double)(n - k) * log1pl(-(long double)p));
                sure(fabs(cot_binom_le(n, p, k) - (double)sum) < 1e-13);
            }
            for (double u = 0.01; u < 1; u += 0.07) {
                int64_t k = cot_binom_quantile(n, p, u);
                ck_assert(cot_round9(cot_binom_le(n, p, k)) >= cot_round9(u));
                ck_assert(k == 0 || cot_round9(cot_binom_le(n, p, k - 1)) < cot_round9(u));
            }
        }
        ck_assert_double_eq(cot_binom_le(n, 0.5, -1), 0);
        ck_assert_double_eq(cot_binom_ge(n, 0.5, n + 1), 0);
        ck_assert_double_eq(cot_binom_le(n, 0, 0), 1);
        ck_assert_double_eq(cot_binom_ge(n, 1, n), 1);
    }
    /* Far tails keep their relative accuracy: 0.9^100. */
    ck_assert_double_eq_tol(cot_binom_ge(100, 0.9, 100) / pow(0.9, 100), 1, 1e-12);
    ck_assert_double_eq_tol(cot_binom_le(2000, 0.9, 0) / 1e-300, 0, 1);
    ck_assert_double_nan(cot_binom_le(-1, 0.5, 0));
    ck_assert_double_nan(cot_binom_ge(10, 1.1, 0));
}
END_TEST

START_TEST(beta_binomial)
{
    static const double shapes[] = {0.3, 1, 2.5, 20, 180, 900};
    for (size_t s = 0; s < SIZES; s++) {
        for (int i = 0; i < 36; i++) {
            int64_t n = sizes[s];
            double a = shapes[i / 6], b = shapes[i % 6];
            long double sum = 0, base = lbeta_long(a, b);
            for (int64_t k = 0; k <= n; k++) {
                long double term =
                    expl(choose_log(n, k) + lbeta_long((long double)k + a, (long double)(n - k) + b) - base);
                sum += term;
                sure(term < 1e-250L || fabsl(cot_betabinom_pmf(n, a, b, k) / term - 1) < 1e-11L);
                sure(k % 61 != 0 || fabs(cot_betabinom_le(n, a, b, k) - (double)sum) < 1e-12);
            }
            ck_assert_double_eq_tol((double)sum, 1, 1e-12);
        }
    }
    /* Beta(1, 1): every number of 0 .. n as likely as another (Bayes 1763). */
    for (int64_t k = 0; k <= 72; k++) ck_assert_double_eq_tol(cot_betabinom_pmf(72, 1, 1, k), 1.0 / 73, 1e-15);
    ck_assert_double_nan(cot_betabinom_pmf(10, 0, 1, 0));
    ck_assert_double_eq(cot_betabinom_pmf(10, 1, 1, 11), 0);
    ck_assert_double_eq(cot_betabinom_le(10, 1, 1, -1), 0);
    ck_assert_double_eq(cot_betabinom_le(10, 1, 1, 10), 1);
}
END_TEST

START_TEST(beta_binomial_quantiles)
{
    struct dice d = dice_new("beta_binomial_quantiles");
    for (int i = 0; i < 300; i++) {
        int64_t n = dice_int(&d, 0, 4000);
        double a = exp(dice_real(&d) * 9 - 2), b = exp(dice_real(&d) * 9 - 2);
        for (int j = 0; j < 101; j++) {
            double u = (2 * j + 1) / 202.0;
            int64_t k = cot_betabinom_quantile(n, a, b, u);
            sure(k >= 0 && k <= n);
            if ((k < n && cot_betabinom_le(n, a, b, k) < u - 1e-9) ||
                (k > 0 && cot_betabinom_le(n, a, b, k - 1) >= u + 1e-9))
                ck_abort_msg("n %ld a %g b %g u %g", (long)n, a, b, u);
        }
    }
    ck_assert_int_eq(cot_betabinom_quantile(0, 1, 1, 0.5), 0);
    ck_assert_int_eq(cot_betabinom_quantile(72, 1, 1, 0.5), 36);
    /* 100,000 cells: no term at either end can be told from 0, the middle still can. */
    int64_t k = cot_betabinom_quantile(100000, 190, 10, 0.5);
    ck_assert_int_gt(k, 94500);
    ck_assert_int_lt(k, 95700);
}
END_TEST

/* What has no sense is NaN; what cannot be has probability 0. */
START_TEST(domains)
{
    static const double bad[] = {NAN, -0.1, 1.1, INFINITY, -INFINITY};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        ck_assert_double_nan(cot_binom_pmf(10, bad[i], 3));
        ck_assert_double_nan(cot_binom_le(10, bad[i], 3));
        ck_assert_double_nan(cot_binom_ge(10, bad[i], 3));
        ck_assert_double_nan(cot_binom_log_le(10, bad[i], 3));
        ck_assert_double_nan(cot_binom_log_ge(10, bad[i], 3));
        ck_assert_double_nan(cot_ibeta_upper(2, 3, bad[i]));
    }
    static const double shapes[] = {NAN, 0, -1, INFINITY};
    for (size_t i = 0; i < sizeof shapes / sizeof *shapes; i++) {
        ck_assert_double_nan(cot_betabinom_pmf(10, shapes[i], 2, 3));
        ck_assert_double_nan(cot_betabinom_log_pmf(10, 2, shapes[i], 3));
        ck_assert_double_nan(cot_betabinom_le(10, shapes[i], 2, 3));
        ck_assert_double_nan(cot_betabinom_ge(10, 2, shapes[i], 3));
        ck_assert_double_nan(cot_betabinom_ge(10, 2, shapes[i], 0));
    }
    ck_assert_double_nan(cot_betabinom_ge(-1, 2, 2, 0));
    static const int64_t urns[][3] = {{-1, 0, 0}, {10, -1, 3}, {10, 11, 3}, {10, 3, -1}, {10, 3, 11}};
    for (size_t i = 0; i < sizeof urns / sizeof *urns; i++) {
        ck_assert_double_nan(cot_hyper_pmf(urns[i][0], urns[i][1], urns[i][2], 1));
        ck_assert_double_nan(cot_hyper_le(urns[i][0], urns[i][1], urns[i][2], 1));
        ck_assert_double_nan(cot_hyper_ge(urns[i][0], urns[i][1], urns[i][2], 1));
    }
    ck_assert_double_eq(cot_hyper_pmf(0, 0, 0, 0), 1);
    ck_assert_double_eq(cot_hyper_pmf(10, 10, 4, 4), 1);
    ck_assert_double_eq(cot_hyper_pmf(10, 8, 4, 1), 0);
    ck_assert_double_eq(cot_hyper_le(10, 8, 4, 1), 0);
    ck_assert_double_eq(cot_hyper_ge(10, 8, 4, 2), 1);
    ck_assert_double_eq(cot_hyper_ge(10, 8, 4, 5), 0);
    ck_assert_double_eq(cot_binom_log_le(10, 0.5, -1), -INFINITY);
    ck_assert_double_eq(cot_binom_log_le(10, 0.5, 10), 0);
    ck_assert_double_eq(cot_binom_log_ge(10, 0.5, 11), -INFINITY);
    /* Below what a double holds: 0.1^5000. */
    ck_assert_double_eq_tol(cot_binom_log_ge(5000, 0.1, 5000), 5000 * log(0.1), 1e-9);
}
END_TEST

START_TEST(hypergeometric_quantiles)
{
    struct dice d = dice_new("hypergeometric_quantiles");
    for (int i = 0; i < 2000; i++) {
        int64_t all = dice_int(&d, 1, 3000), usable = dice_int(&d, 0, all), drawn = dice_int(&d, 0, all);
        double u = dice_real(&d);
        int64_t k = cot_hyper_quantile(all, usable, drawn, u);
        sure(cot_round9(cot_hyper_le(all, usable, drawn, k)) >= cot_round9(u));
        sure(k == 0 || cot_hyper_pmf(all, usable, drawn, k - 1) == 0 ||
             cot_round9(cot_hyper_le(all, usable, drawn, k - 1)) < cot_round9(u));
        double both = cot_hyper_le(all, usable, drawn, k) + cot_hyper_ge(all, usable, drawn, k + 1);
        sure(fabs(both - 1) < 1e-12);
    }
}
END_TEST

START_TEST(rounding)
{
    ck_assert_double_eq(cot_round9(0.1234567894), 0.123456789);
    ck_assert_double_eq(cot_round9(0.1234567896), 0.12345679);
    ck_assert_double_eq(cot_round9(1 - 1e-12), 1);
    ck_assert_double_eq(cot_round9(1e-12), 0);
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
    Suite *s = suite_create("core/prob");
    add(s, "gamma", gamma_and_beta);
    add(s, "ibeta", incomplete_beta);
    add(s, "ibeta_inv", incomplete_beta_inverse);
    add(s, "binomial", binomial);
    add(s, "beta_binomial", beta_binomial);
    add(s, "quantiles", beta_binomial_quantiles);
    add(s, "domains", domains);
    add(s, "hyper", hypergeometric_quantiles);
    add(s, "rounding", rounding);
    return s;
}
