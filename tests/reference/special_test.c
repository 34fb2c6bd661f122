/* The normal distribution and the incomplete beta function, both ways, against MPFR; and GSL's normal beside. */
#include <gsl/gsl_cdf.h>

#include "cotyledger/core/prob.h"
#include "exact.h"

#define NORMAL_BITS 128 /* erfc is slow far out */

enum { PHI, PHI_INV, IBETA, UPPER, INVERSE, FUNCTIONS };
static struct near near[FUNCTIONS] = {
    NEAR("phi", 1e-12),         NEAR("phi_inv", 1e-12),   NEAR("ibeta", 1e-10),
    NEAR("ibeta_upper", 1e-10), NEAR("ibeta_inv", 1e-10),
};

static void exact_phi(mpfr_t out, double x)
{
    mpfr_t root;
    mpfr_init2(root, NORMAL_BITS);
    mpfr_sqrt_ui(root, 2, MPFR_RNDN);
    mpfr_d_div(out, -x, root, MPFR_RNDN);
    mpfr_erfc(out, out, MPFR_RNDN);
    mpfr_div_ui(out, out, 2, MPFR_RNDN);
    mpfr_clear(root);
}

/* How far x is from the quantile of p, relative to x: exact miss in probability over the density. */
static double quantile_miss(double x, double p)
{
    mpfr_t exact;
    mpfr_init2(exact, NORMAL_BITS);
    exact_phi(exact, x);
    mpfr_sub_d(exact, exact, p, MPFR_RNDN);
    double miss = mpfr_get_d(exact, MPFR_RNDN);
    mpfr_clear(exact);
    return fabs(miss / exp(-0.5 * x * x) * 2.5066282746310002 / x);
}

START_TEST(normal)
{
    mpfr_t exact;
    mpfr_init2(exact, NORMAL_BITS);
    int thin = grid_thin();
    for (int i = -3700; i <= 900; i += 7 * thin) {
        double x = i / 100.0 + 1.0 / 512;
        exact_phi(exact, x);
        near_check(&near[PHI], cot_phi(x), exact, x, 0, 0, 0);
        ck_assert(fabs(cot_phi(x) - gsl_cdf_ugaussian_P(x)) <= 1e-12 * gsl_cdf_ugaussian_P(x));
    }
    for (double p = 1e-300; p < 0.5; p *= 1 + 1.6 * thin)
        near_note(&near[PHI_INV], quantile_miss(cot_phi_inv(p), p), p, 0, 0, 0);
    for (double p = 0.5 + 1e-9; p < 1; p += 0.0041 * thin)
        near_note(&near[PHI_INV], quantile_miss(cot_phi_inv(p), p), p, 0, 0, 0);
    mpfr_clear(exact);
    near_report(near, 2);
}
END_TEST

/* I_x(a, b) = x^a y^b Gamma(a + b) / (Gamma(a + 1) Gamma(b)) (1 + sum of products of x (a + b + i) / (a + 1 + i)), all
 * terms of one sign (DLMF 8.17.8). */
static void exact_ibeta(mpfr_t out, double a, double b, double x)
{
    mpfr_t term, sum, up, down, l;
    mpfr_inits2(EXACT_BITS, term, sum, up, down, l, (mpfr_ptr)NULL);
    mpfr_set_d(up, a, MPFR_RNDN);
    mpfr_add_d(up, up, b, MPFR_RNDN);
    mpfr_lngamma(out, up, MPFR_RNDN);
    mpfr_set_d(down, a, MPFR_RNDN);
    mpfr_add_ui(down, down, 1, MPFR_RNDN);
    mpfr_lngamma(l, down, MPFR_RNDN);
    mpfr_sub(out, out, l, MPFR_RNDN);
    mpfr_set_d(l, b, MPFR_RNDN);
    mpfr_lngamma(l, l, MPFR_RNDN);
    mpfr_sub(out, out, l, MPFR_RNDN);
    mpfr_set_d(l, x, MPFR_RNDN);
    mpfr_log(l, l, MPFR_RNDN);
    mpfr_mul_d(l, l, a, MPFR_RNDN);
    mpfr_add(out, out, l, MPFR_RNDN);
    mpfr_set_d(l, -x, MPFR_RNDN);
    mpfr_log1p(l, l, MPFR_RNDN);
    mpfr_mul_d(l, l, b, MPFR_RNDN);
    mpfr_add(out, out, l, MPFR_RNDN);
    mpfr_exp(out, out, MPFR_RNDN);
    mpfr_set_ui(term, 1, MPFR_RNDN);
    mpfr_set_ui(sum, 1, MPFR_RNDN);
    while (mpfr_get_exp(term) > mpfr_get_exp(sum) - 120) {
        mpfr_mul(term, term, up, MPFR_RNDN);
        mpfr_div(term, term, down, MPFR_RNDN);
        mpfr_mul_d(term, term, x, MPFR_RNDN);
        mpfr_add(sum, sum, term, MPFR_RNDN);
        mpfr_add_ui(up, up, 1, MPFR_RNDN);
        mpfr_add_ui(down, down, 1, MPFR_RNDN);
    }
    mpfr_mul(out, out, sum, MPFR_RNDN);
    mpfr_clears(term, sum, up, down, l, (mpfr_ptr)NULL);
}

static const double shapes[] = {0.001, 0.05, 0.3, 0.5, 1, 1.25, 2.5, 19, 72.5, 381, 5000, 100000.5, 1e6};
#define SHAPES 13

START_TEST(incomplete_beta)
{
    mpfr_t exact;
    mpfr_init2(exact, EXACT_BITS);
    int steps = 48 / grid_thin();
    for (int i = 0; i < SHAPES * SHAPES; i++) {
        double a = shapes[i / SHAPES], b = shapes[i % SHAPES], middle = a / (a + b);
        double sd = sqrt(a * b / (a + b + 1)) / (a + b);
        for (int j = -steps; j <= steps; j++) {
            double x = floor((middle + j * 38 * sd / steps) * 1048576) / 1048576; /* 1 - x is exact too */
            if (x <= 0 || x > 0.97) continue;
            exact_ibeta(exact, a, b, x);
            near_check(&near[IBETA], cot_ibeta(a, b, x), exact, a, b, x, 0);
            near_check(&near[UPPER], cot_ibeta_upper(b, a, 1 - x), exact, b, a, 1 - x, 0);
        }
    }
    mpfr_clear(exact);
    near_report(near + IBETA, 2);
}
END_TEST

/* How far x is from the quantile, relative to x: the exact miss in probability over the exact growth of I_x from
 * x to a little more. */
static double inverse_miss(double a, double b, double x, double p)
{
    mpfr_t at, beyond;
    mpfr_inits2(EXACT_BITS, at, beyond, (mpfr_ptr)NULL);
    double more = x * (1 + 0x1p-40);
    exact_ibeta(at, a, b, x);
    exact_ibeta(beyond, a, b, more);
    mpfr_sub(beyond, beyond, at, MPFR_RNDN);
    mpfr_sub_d(at, at, p, MPFR_RNDN);
    mpfr_div(at, at, beyond, MPFR_RNDN);
    double miss = fabs(mpfr_get_d(at, MPFR_RNDN)) * (more - x) / x;
    mpfr_clears(at, beyond, (mpfr_ptr)NULL);
    return miss;
}

START_TEST(inverse)
{
    static const double levels[] = {1e-300, 1e-200, 1e-30, 1e-9, 0.001, 0.025, 0.05, 0.3, 0.5, 0.8, 0.975, 0.9999};
    for (int i = 0; i < SHAPES * SHAPES; i++) {
        double a = shapes[i / SHAPES], b = shapes[i % SHAPES];
        for (size_t j = 0; j < sizeof levels / sizeof *levels; j++) {
            double p = levels[j], x = cot_ibeta_inv(a, b, p);
            ck_assert(x >= 0 && x <= 1);
            if (!(x > 1e-290) || x > 0.97) continue;
            near_note(&near[INVERSE], inverse_miss(a, b, x, p), a, b, p, x);
        }
    }
    near_report(near + INVERSE, 1);
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 400);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("reference/special");
    add(s, "normal", normal);
    add(s, "ibeta", incomplete_beta);
    add(s, "ibeta_inv", inverse);
    return s;
}
