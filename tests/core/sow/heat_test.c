/* server/core/sow/heat.c: the heat sum's arithmetic, what lies between two temperatures, and what is refused. The
 * table's rows: tests/reference. */
#include <math.h>
#include <string.h>

#include "cotyledger/core/emergence.h"
#include "../../main.h"

static struct cot_fault fault;

static double days_of(const char *crop, double celsius, enum cot_emergence_basis want)
{
    double days;
    enum cot_emergence_basis basis;
    ck_assert_int_eq(cot_emergence_days(crop, celsius, &days, &basis, &fault), COT_OK);
    ck_assert_int_eq(basis, want);
    return days;
}

static enum cot_err refused(const char *crop, double celsius)
{
    double days = 0;
    enum cot_emergence_basis basis;
    fault = (struct cot_fault){0};
    enum cot_err err = cot_emergence_days(crop, celsius, &days, &basis, &fault);
    ck_assert(err == COT_OK || isnan(days) || days > 0);
    return err;
}

START_TEST(heat_sum)
{
    /* Onion on moist paper (data of J. F. Harrington 1962): base 2.5 C, 80 degree-days: 4 days at 22.5 C, 16 at 7.5. */
    ck_assert_double_eq(cot_heat_days(2.5, 80, 22.5), 4);
    ck_assert_double_eq(cot_heat_days(2.5, 80, 7.5), 16);
    static const double bad[][3] = {{2.5, 80, 2.5},      {2.5, 80, 1},       {2.5, 0, 20},   {2.5, -1, 20},
                                    {NAN, 80, 20},       {2.5, NAN, 20},     {2.5, 80, NAN}, {2.5, INFINITY, 20},
                                    {-INFINITY, 80, 20}, {2.5, 80, INFINITY}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        ck_assert_double_nan(cot_heat_days(bad[i][0], bad[i][1], bad[i][2]));
}
END_TEST

START_TEST(at_and_between)
{
    ck_assert_double_eq(days_of("tomato", 20, COT_EMERGENCE_MEASURED), 8);
    ck_assert_double_eq(days_of("Tomato", 25, COT_EMERGENCE_MEASURED), 6);
    ck_assert_double_eq_tol(days_of("TOMATO", 22, COT_EMERGENCE_HEAT), 88 / 13.3, 1e-12);
    ck_assert_double_eq_tol(days_of("tomato", 27.5, COT_EMERGENCE_BETWEEN), 6, 1e-12);
    /* Half way in speed: 2 / (1/13 + 1/8). */
    ck_assert_double_eq_tol(days_of("pepper", 22.5, COT_EMERGENCE_BETWEEN), 2 / (1 / 13.0 + 1 / 8.0), 1e-12);
    /* Days at a temperature between lie between. */
    size_t n;
    const struct cot_emergence_row *row = cot_emergence_rows(&n);
    for (size_t i = 0; i < n; i++) {
        for (int k = 0; k + 1 < COT_SOIL_POINTS; k++) {
            double low = row[i].days[k], high = row[i].days[k + 1], days;
            enum cot_emergence_basis basis;
            enum cot_err err = cot_emergence_days(row[i].crop, k * 5 + 2.0, &days, &basis, NULL);
            ck_assert_int_eq(err == COT_OK, low > 0 && high > 0);
            if (err != COT_OK || basis == COT_EMERGENCE_HEAT) continue;
            ck_assert(days >= fmin(low, high) - 1e-9 && days <= fmax(low, high) + 1e-9);
        }
    }
}
END_TEST

START_TEST(not_there)
{
    ck_assert_int_eq(refused("lettuce", 35), COT_INVALID);
    ck_assert_str_eq(fault.msg, "lettuce does not emerge at 35 degrees C, by the measured table");
    ck_assert_int_eq(refused("lettuce", 33), COT_INVALID);
    ck_assert_int_eq(refused("eggplant", 15), COT_NOT_FOUND);
    ck_assert_str_eq(fault.msg, "eggplant was not tested at 15 degrees C");
    ck_assert_int_eq(refused("no such crop", 20), COT_NOT_FOUND);
    ck_assert_int_eq(refused("", 20), COT_NOT_FOUND);
    ck_assert_int_eq(refused("tomatoes", 20), COT_NOT_FOUND);
    static const double bad[] = {-0.1, 40.1, NAN, INFINITY, -INFINITY, 1e300};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) ck_assert_int_eq(refused("tomato", bad[i]), COT_INVALID);
    ck_assert_int_eq(refused("turnip", 40), COT_OK);
    ck_assert_ptr_null(cot_heat_row("lettuce"));
    ck_assert_ptr_nonnull(cot_heat_row("Snap Bean"));
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/sow/heat");
    add(s, "sum", heat_sum);
    add(s, "between", at_and_between);
    add(s, "not_there", not_there);
    return s;
}
