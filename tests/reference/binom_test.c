/* The binomial and the hypergeometric distribution against exact sums of their terms, to 1e-10 of the value, down to
 * 1e-300; and GSL's beside, which must agree where it is good itself. */
#include <gmp.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>

#include "cotyledger/core/prob.h"
#include "exact.h"

#define SAMPLES 110

enum { PMF, LE, GE, LOG_LE, LOG_GE, HYPER_PMF, HYPER_LE, HYPER_GE, FUNCTIONS };
static struct near near[FUNCTIONS] = {
    NEAR("binom_pmf", 1e-10),    NEAR("binom_le", 1e-10),  NEAR("binom_ge", 1e-10), NEAR("binom_log_le", 1e-10),
    NEAR("binom_log_ge", 1e-10), NEAR("hyper_pmf", 1e-10), NEAR("hyper_le", 1e-10), NEAR("hyper_ge", 1e-10),
};

/* What is asked at one k: from the terms' exact value and their exact sum up to it. */
struct asked {
    const int64_t *n; /* n, or all, usable, drawn */
    double p;
    bool turned; /* k counts from the other end: the sum is P(X >= n - k) */
};
typedef void ask(const struct asked *q, int64_t k, const mpfr_t pmf, const mpfr_t sum);

static void ask_binom(const struct asked *q, int64_t k, const mpfr_t pmf, const mpfr_t sum)
{
    int64_t n = q->n[0], at = q->turned ? n - k : k;
    double n_ = (double)n, at_ = (double)at;
    near_check(&near[PMF], cot_binom_pmf(n, q->p, at), pmf, n_, q->p, at_, 0);
    if (q->turned) near_check(&near[GE], cot_binom_ge(n, q->p, at), sum, n_, q->p, at_, 0);
    else near_check(&near[LE], cot_binom_le(n, q->p, at), sum, n_, q->p, at_, 0);
    mpfr_t log_sum;
    mpfr_init2(log_sum, EXACT_BITS);
    mpfr_log(log_sum, sum, MPFR_RNDN);
    if (mpfr_cmp_d(log_sum, -1e-40) > 0) goto out; /* more than 256 bits hold of a sum so near 1 */
    if (q->turned) near_check(&near[LOG_GE], cot_binom_log_ge(n, q->p, at), log_sum, n_, q->p, at_, 0);
    else near_check(&near[LOG_LE], cot_binom_log_le(n, q->p, at), log_sum, n_, q->p, at_, 0);
out:
    mpfr_clear(log_sum);
}

/* A recurrence: term(k + 1) = term(k) times up(k) / down(k), all whole, times `odds`. Asks at about `samples` k of
 * from .. to. The sum starts with `term`; what lies below `from` must be
 * negligible from ask_from on. */
struct chain {
    int64_t from, ask_from, to;
    mpfr_t term, odds;
    int64_t a, b, c; /* up = (a - k)(b - k), down = (k + 1)(c + k + 1); b = INT64_MAX: without the second factors */
};

static void chain_walk(struct chain *w, int samples, ask *ask_at, const struct asked *q)
{
    mpfr_t sum;
    mpfr_init2(sum, EXACT_BITS);
    mpfr_set_zero(sum, 1);
    int64_t every = (w->to - w->from) / samples + 1;
    for (int64_t k = w->from; k <= w->to; k++) {
        mpfr_add(sum, sum, w->term, MPFR_RNDN);
        if (k >= w->ask_from && ((k - w->from) % every == 0 || k == w->to)) ask_at(q, k, w->term, sum);
        mpfr_mul_ui(w->term, w->term, (unsigned long)(w->a - k), MPFR_RNDN);
        mpfr_div_ui(w->term, w->term, (unsigned long)(k + 1), MPFR_RNDN);
        if (w->b == INT64_MAX) {
            mpfr_mul(w->term, w->term, w->odds, MPFR_RNDN);
        } else {
            mpfr_mul_ui(w->term, w->term, (unsigned long)(w->b - k), MPFR_RNDN);
            mpfr_div_ui(w->term, w->term, (unsigned long)(w->c + k + 1), MPFR_RNDN);
        }
    }
    mpfr_clear(sum);
}

/* C(n, k) as a real. */
static void choose(mpfr_t out, int64_t n, int64_t k)
{
    mpz_t z;
    mpz_init(z);
    mpz_bin_uiui(z, (unsigned long)n, (unsigned long)k);
    mpfr_set_z(out, z, MPFR_RNDN);
    mpz_clear(z);
}

/* The terms that may be above 1e-300 lie within 38 standard deviations and 700 of the mean, roughly; more is no harm.
 */
static void window(struct chain *w, int64_t low, int64_t high, double mean, double sd)
{
    double reach = 44 * sd + 1200;
    w->from = mean - reach > (double)low ? (int64_t)(mean - reach) : low;
    w->ask_from = w->from > low ? w->from + (int64_t)(reach / 8) : low;
    w->to = mean + reach < (double)high ? (int64_t)(mean + reach) : high;
}

static void binom_side(int64_t n, double p, bool turned)
{
    struct chain w = {.a = n, .b = INT64_MAX};
    struct asked q = {&n, p, turned};
    mpfr_t up, down, power;
    mpfr_inits2(EXACT_BITS, up, down, power, w.term, w.odds, (mpfr_ptr)NULL);
    mpfr_set_d(up, p, MPFR_RNDN);
    mpfr_ui_sub(down, 1, up, MPFR_RNDN);
    if (turned) mpfr_swap(up, down);
    mpfr_div(w.odds, up, down, MPFR_RNDN);
    double rate = mpfr_get_d(up, MPFR_RNDN);
    window(&w, 0, n, (double)n * rate, sqrt((double)n * p * (1 - p)));
    choose(w.term, n, w.from);
    mpfr_pow_ui(power, up, (unsigned long)w.from, MPFR_RNDN);
    mpfr_mul(w.term, w.term, power, MPFR_RNDN);
    mpfr_pow_ui(power, down, (unsigned long)(n - w.from), MPFR_RNDN);
    mpfr_mul(w.term, w.term, power, MPFR_RNDN);
    chain_walk(&w, SAMPLES / grid_thin(), ask_binom, &q);
    mpfr_clears(up, down, power, w.term, w.odds, (mpfr_ptr)NULL);
}

START_TEST(binomial)
{
    static const int64_t sizes[] = {1, 2, 7, 30, 72, 333, 512, 2880, 20000, 100000, 1000000, 1999993};
    static const double rates[] = {1e-300, 1e-9, 1e-6, 1e-4, 0.003, 0.02,  0.1,    0.25,
                                   0.5,    0.7,  0.85, 0.95, 0.98,  0.997, 0.9999, 1 - 1.0 / 1048576};
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        for (size_t j = 0; j < sizeof rates / sizeof *rates; j++) {
            binom_side(sizes[i], rates[j], false);
            binom_side(sizes[i], rates[j], true);
        }
    }
    long points = near_report(near, HYPER_PMF);
    if (grid_thin() == 1) ck_assert_int_ge(points, 50000);
}
END_TEST

static void ask_hyper(const struct asked *q, int64_t k, const mpfr_t pmf, const mpfr_t sum)
{
    int64_t all = q->n[0], usable = q->n[1], drawn = q->n[2], at = q->turned ? drawn - k : k;
    double a = (double)all, u = (double)usable, d = (double)drawn;
    near_check(&near[HYPER_PMF], cot_hyper_pmf(all, usable, drawn, at), pmf, a, u, d, (double)at);
    if (q->turned) near_check(&near[HYPER_GE], cot_hyper_ge(all, usable, drawn, at), sum, a, u, d, (double)at);
    else near_check(&near[HYPER_LE], cot_hyper_le(all, usable, drawn, at), sum, a, u, d, (double)at);
}

static void hyper_side(int64_t all, int64_t usable, int64_t drawn, bool turned)
{
    int64_t n[3] = {all, usable, drawn}, good = turned ? all - usable : usable, bad = all - good;
    int64_t low = drawn > bad ? drawn - bad : 0, high = drawn < good ? drawn : good;
    struct chain w = {.a = good, .b = drawn, .c = bad - drawn};
    struct asked q = {n, 0, turned};
    mpfr_t other;
    mpfr_inits2(EXACT_BITS, w.term, w.odds, other, (mpfr_ptr)NULL);
    double d = (double)drawn, p = (double)good / (double)all;
    window(&w, low, high, d * p, sqrt(d * p * (1 - p)));
    choose(w.term, good, w.from);
    choose(other, bad, drawn - w.from);
    mpfr_mul(w.term, w.term, other, MPFR_RNDN);
    choose(other, all, drawn);
    mpfr_div(w.term, w.term, other, MPFR_RNDN);
    chain_walk(&w, SAMPLES / grid_thin(), ask_hyper, &q);
    mpfr_clears(w.term, w.odds, other, (mpfr_ptr)NULL);
}

START_TEST(hypergeometric)
{
    static const int64_t urns[] = {1, 8, 72, 500, 2880, 20000, 300000, 1000000};
    static const double shares[] = {0, 0.001, 0.05, 0.3, 0.5, 0.9, 0.97, 0.9996, 1};
    for (size_t i = 0; i < sizeof urns / sizeof *urns; i++) {
        for (int j = 0; j < 9 * 9; j++) {
            int64_t usable = (int64_t)((double)urns[i] * shares[j / 9]);
            int64_t drawn = (int64_t)((double)urns[i] * shares[j % 9]);
            if (i >= 6 && j % 2) continue;
            hyper_side(urns[i], usable, drawn, false);
            hyper_side(urns[i], usable, drawn, true);
        }
    }
    long points = near_report(near + HYPER_PMF, 3);
    if (grid_thin() == 1) ck_assert_int_ge(points, 35000);
}
END_TEST

/* Fisher 1935, The Design of Experiments: eight cups, four of them milk first: 1, 16, 36, 16, 1 of 70. */
START_TEST(tea)
{
    static const double ways[] = {1, 16, 36, 16, 1};
    for (int k = 0; k <= 4; k++) ck_assert_double_eq_tol(cot_hyper_pmf(8, 4, 4, k), ways[k] / 70, 1e-15);
    ck_assert_double_eq_tol(cot_hyper_ge(8, 4, 4, 3), 17.0 / 70, 1e-15);
    ck_assert_double_eq_tol(cot_hyper_le(8, 4, 4, 1) + cot_hyper_ge(8, 4, 4, 3), 0.4857, 0.00005);
}
END_TEST

static void beside(const char *what, double ours, double theirs)
{
    if (!(fabs(ours - theirs) <= 1e-9 * fabs(theirs))) ck_abort_msg("%s: ours %.15g, GSL %.15g", what, ours, theirs);
}

START_TEST(gsl_beside)
{
    gsl_set_error_handler_off();
    for (unsigned n = 1; n < 600; n += 23) {
        for (unsigned k = 0; k <= n; k += 1 + n / 20) {
            for (double p = 0.03; p < 1; p += 0.09) {
                beside("binomial pmf", cot_binom_pmf(n, p, k), gsl_ran_binomial_pdf(k, p, n));
                if (k < n) beside("binomial <=", cot_binom_le(n, p, k), gsl_cdf_binomial_P(k, p, n));
                beside("binomial >", cot_binom_ge(n, p, (int64_t)k + 1), gsl_cdf_binomial_Q(k, p, n));
            }
            unsigned culls = 40 + n / 3, drawn = n / 2 + 1;
            beside("hypergeometric", cot_hyper_pmf(n + culls, n, drawn, k),
                   gsl_ran_hypergeometric_pdf(k, n, culls, drawn));
        }
    }
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
    Suite *s = suite_create("reference/binom");
    add(s, "binomial", binomial);
    add(s, "hypergeometric", hypergeometric);
    add(s, "tea", tea);
    add(s, "gsl", gsl_beside);
    return s;
}
