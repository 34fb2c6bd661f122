/* server/core/prob/normal.c: against the C library's erfcl, and against itself backwards. MPFR: tests/reference. */
#include <math.h>

#include "cotyledger/core/prob.h"
#include "../../main.h"
#include "../seed.h"

static double want_phi(double x)
{
    return (double)(0.5L * erfcl(-(long double)x * sqrtl(0.5L)));
}

START_TEST(distribution)
{
    for (double x = -37; x < 9; x += 0.0173) {
        double want = want_phi(x), got = cot_phi(x);
        if (!(fabs(got - want) <= 1e-12 * want)) ck_abort_msg("phi(%.17g) = %.17g, not %.17g", x, got, want);
    }
    ck_assert_double_eq(cot_phi(0), 0.5);
    ck_assert_double_eq(cot_phi(-INFINITY), 0);
    ck_assert_double_eq(cot_phi(INFINITY), 1);
    ck_assert_double_eq(cot_phi(-1e300), 0);
    ck_assert_double_eq(cot_phi(1e300), 1);
    ck_assert_double_nan(cot_phi(NAN));
}
END_TEST

START_TEST(quantiles)
{
    struct dice d = dice_new("quantiles");
    for (int i = 0; i < 20000; i++) {
        double x = -37 * dice_real(&d), back = cot_phi_inv(cot_phi(x));
        /* Near 0 the probability is near 1/2 and holds x to 1e-16 only. */
        if (!(fabs(back - x) <= -1e-12 * x + 3e-16)) ck_abort_msg("x %.17g comes back as %.17g", x, back);
    }
    for (int i = 1; i < 64; i++) {
        double p = i / 64.0;
        sure(cot_phi_inv(p) == -cot_phi_inv(1 - p));
    }
    /* 1.959963984540054, 4.753424308822899 (1 in 1,000,000): printed in any table of the normal, from memory. */
    ck_assert_double_eq_tol(cot_phi_inv(0.975), 1.959963984540054, 1e-14);
    ck_assert_double_eq_tol(cot_phi_inv(1e-6), -4.753424308822899, 1e-13);
    ck_assert_double_eq(cot_phi_inv(0.5), 0);
    ck_assert_double_eq(cot_phi_inv(0), -INFINITY);
    ck_assert_double_eq(cot_phi_inv(1), INFINITY);
    ck_assert_double_eq_tol(cot_phi_inv(5e-324), -38.46740561714435, 1e-9); /* smallest double: from memory */
    ck_assert_double_nan(cot_phi_inv(-0.1));
    ck_assert_double_nan(cot_phi_inv(1.1));
    ck_assert_double_nan(cot_phi_inv(NAN));
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
    Suite *s = suite_create("core/normal");
    add(s, "distribution", distribution);
    add(s, "quantiles", quantiles);
    return s;
}
