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

START_TEST(newcombe)
{
    struct cot_csv *csv = values_open("newcombe1998_table1.csv");
    size_t rows = cot_csv_count(csv);
    ck_assert_uint_eq(rows, 9);
    for (size_t i = 1; i < rows; i++) {
        int64_t x = (int64_t)value_real(csv, i, "x"), n = (int64_t)value_real(csv, i, "n");
        bool mid = strcmp(value_text(csv, i, "method"), "mid-P") == 0;
        double low = mid ? (x == 0 ? 0 : mid_p(x, n, 0.025)) : exact_low(x, n, 0.025);
        double high = mid ? mid_p(x, n, 0.975) : exact_high(x, n, 0.025);
        ck_assert_double_eq_tol(low, value_real(csv, i, "low"), 0.00005001);
        ck_assert_double_eq_tol(high, value_real(csv, i, "high"), 0.00005001);
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
    add(s, "nist_interval", nist_exact_interval);
    add(s, "nist_oc", nist_operating_characteristic);
    return s;
}
