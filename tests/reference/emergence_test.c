/* Days to emergence against the published table, row by row, and where the heat sum agrees with it. */
#include <math.h>
#include <string.h>

#include "cotyledger/core/emergence.h"
#include "values.h"

static int16_t days_in(const char *text)
{
    if (strcmp(text, "NG") == 0) return COT_EMERGED_NONE;
    if (strcmp(text, "-") == 0) return COT_EMERGED_NOT_TESTED;
    return (int16_t)atoi(text);
}

START_TEST(measured_rows)
{
    struct cot_csv *csv = values_open("emergence_harrington_minges1954.csv");
    size_t n, rows = cot_csv_count(csv);
    (void)cot_emergence_rows(&n);
    ck_assert_uint_eq(n, 24);
    ck_assert_uint_eq(rows, 1 + n * COT_SOIL_POINTS);
    for (size_t i = 1; i < rows; i++) {
        const struct cot_emergence_row *row = cot_emergence_row(value_text(csv, i, "crop"));
        int celsius = (int)value_real(csv, i, "celsius");
        ck_assert_ptr_nonnull(row);
        ck_assert_int_eq(celsius % COT_SOIL_STEP, 0);
        int16_t want = days_in(value_text(csv, i, "days")), got = row->days[celsius / COT_SOIL_STEP];
        ck_assert_msg(got == want, "%s at %d C: %d, not %d", row->crop, celsius, got, want);
    }
    cot_csv_free(csv);
}
END_TEST

/* Within a fifth of the table at 15, 20 and 25 C, for every crop whose heat sum is used. */
START_TEST(heat_agrees)
{
    struct cot_csv *csv = values_open("heat_sum_bierhuizen_wagenvoort1974.csv");
    ck_assert_uint_eq(cot_csv_count(csv), 5);
    for (size_t i = 1; i < cot_csv_count(csv); i++) {
        const char *crop = value_text(csv, i, "crop");
        const struct cot_heat_row *h = cot_heat_row(crop);
        const struct cot_emergence_row *row = cot_emergence_row(crop);
        ck_assert(h && row);
        ck_assert_double_eq(h->base, value_real(csv, i, "base"));
        ck_assert_double_eq(h->sum, value_real(csv, i, "sum"));
        for (int celsius = 15; celsius <= 25; celsius += COT_SOIL_STEP) {
            double measured = row->days[celsius / COT_SOIL_STEP], by_heat = cot_heat_days(h->base, h->sum, celsius);
            ck_assert_msg(fabs(by_heat - measured) <= 0.2 * measured, "%s at %d C: %g, measured %g", crop, celsius,
                          by_heat, measured);
        }
    }
    cot_csv_free(csv);
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
    Suite *s = suite_create("reference/emergence");
    add(s, "measured", measured_rows);
    add(s, "heat", heat_agrees);
    return s;
}
