/* The beta-binomial against exact products and sums of its terms, to 1e-10 of the value, down to 1e-300. */
#include "cotyledger/core/prob.h"
#include "exact.h"

#define SAMPLES 90

enum { PMF, LOG_PMF, LE, GE, FUNCTIONS };
static struct near near[FUNCTIONS] = {
    NEAR("betabinom_pmf", 1e-10),
    NEAR("betabinom_log_pmf", 1e-10),
    NEAR("betabinom_le", 1e-10),
    NEAR("betabinom_ge", 1e-10),
};

static void ask(int64_t n, double a, double b, int64_t k, const mpfr_t pmf, const mpfr_t sum)
{
    near_check(&near[PMF], cot_betabinom_pmf(n, a, b, k), pmf, (double)n, a, b, (double)k);
    near_check(&near[LE], cot_betabinom_le(n, a, b, k), sum, (double)n, a, b, (double)k);
    near_check(&near[GE], cot_betabinom_ge(n, b, a, n - k), sum, (double)n, b, a, (double)(n - k));
    mpfr_t l;
    mpfr_init2(l, EXACT_BITS);
    mpfr_log(l, pmf, MPFR_RNDN);
    double got = cot_betabinom_log_pmf(n, a, b, k), miss = fabs(got - mpfr_get_d(l, MPFR_RNDN));
    near_note(&near[LOG_PMF], miss / fmax(1, fabs(got)), (double)n, a, b, (double)k);
    mpfr_clear(l);
}

/* P(X = 0) = Gamma(n + b) Gamma(a + b) / (Gamma(b) Gamma(n + a + b)). */
static void first_term(mpfr_t out, int64_t n, double a, double b)
{
    mpfr_t x, l;
    mpfr_inits2(EXACT_BITS + 64, x, l, (mpfr_ptr)NULL);
    mpfr_set_d(x, b, MPFR_RNDN);
    mpfr_lngamma(l, x, MPFR_RNDN);
    mpfr_neg(out, l, MPFR_RNDN);
    mpfr_add_si(x, x, n, MPFR_RNDN);
    mpfr_lngamma(l, x, MPFR_RNDN);
    mpfr_add(out, out, l, MPFR_RNDN);
    mpfr_add_d(x, x, a, MPFR_RNDN);
    mpfr_lngamma(l, x, MPFR_RNDN);
    mpfr_sub(out, out, l, MPFR_RNDN);
    mpfr_set_d(x, a, MPFR_RNDN);
    mpfr_add_d(x, x, b, MPFR_RNDN);
    mpfr_lngamma(l, x, MPFR_RNDN);
    mpfr_add(out, out, l, MPFR_RNDN);
    mpfr_exp(out, out, MPFR_RNDN);
    mpfr_clears(x, l, (mpfr_ptr)NULL);
}

/* Every term from 0 to n, and their sum, which must be 1. Asks at about `samples` of them. */
static void walk(int64_t n, double a, double b, int64_t samples)
{
    mpfr_t term, sum, up, down;
    mpfr_inits2(EXACT_BITS, term, sum, up, down, (mpfr_ptr)NULL);
    first_term(term, n, a, b);
    mpfr_set_zero(sum, 1);
    int64_t every = n / samples + 1;
    mpfr_set_d(up, a, MPFR_RNDN);
    mpfr_set_d(down, b, MPFR_RNDN);
    mpfr_add_si(down, down, n - 1, MPFR_RNDN); /* n - k - 1 + b */
    for (int64_t k = 0; k <= n; k++) {
        mpfr_add(sum, sum, term, MPFR_RNDN);
        if (k % every == 0 || k == n) ask(n, a, b, k, term, sum);
        if (k == n) break;
        mpfr_mul_ui(term, term, (unsigned long)(n - k), MPFR_RNDN);
        mpfr_div_ui(term, term, (unsigned long)(k + 1), MPFR_RNDN);
        mpfr_mul(term, term, up, MPFR_RNDN);
        mpfr_div(term, term, down, MPFR_RNDN);
        mpfr_add_ui(up, up, 1, MPFR_RNDN);
        mpfr_sub_ui(down, down, 1, MPFR_RNDN);
    }
    mpfr_sub_ui(sum, sum, 1, MPFR_RNDN);
    if (!(fabs(mpfr_get_d(sum, MPFR_RNDN)) < 1e-50))
        ck_abort_msg("the exact terms of %ld cells do not sum to 1", (long)n);
    mpfr_clears(term, sum, up, down, (mpfr_ptr)NULL);
}

START_TEST(beta_binomial)
{
    static const double shapes[] = {0.001, 0.05, 0.5, 1, 1.5, 7.25, 60, 190.3, 5000, 1e7};
    static const int64_t small[] = {1, 2, 20, 72, 144, 500, 2880};
    static const double large[][3] = {
        {20000, 47.5, 2.5}, {20000, 0.9, 0.1}, {20000, 0.04, 0.01}, {20000, 1e6, 1e4},
        {20000, 940, 60},   {20000, 1.2, 30},  {100000, 190, 10},   {100000, 5e6, 300},
        {1000000, 1, 1},    {1000000, 97, 3},  {1000000, 1e7, 4e6},
    };
    for (int i = 0; i < 10 * 10; i++)
        for (size_t j = 0; j < sizeof small / sizeof *small; j++)
            walk(small[j], shapes[i / 10], shapes[i % 10], SAMPLES / grid_thin());
    int n = (int)(sizeof large / sizeof *large);
    for (int i = 0; i < n; i++) walk((int64_t)large[i][0], large[i][1], large[i][2], 40 / grid_thin());
    long points = near_report(near, FUNCTIONS);
    if (grid_thin() == 1) ck_assert_int_ge(points, 100000);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("reference/betabinom");
    TCase *c = tcase_create("exact");
    tcase_set_timeout(c, 400);
    tcase_add_test(c, beta_binomial);
    suite_add_tcase(s, c);
    return s;
}
