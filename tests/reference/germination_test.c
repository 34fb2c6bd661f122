/* Tables of the federal seed rules, row by row: 7 CFR 201.55(a), range between replicates, and 7 CFR 201.63, tolerance
 * between two results. And what chance alone makes of the first. */
#include <math.h>

#include "cotyledger/core/check.h"
#include "values.h"

START_TEST(range_rows)
{
    struct cot_csv *csv = values_open("replicate_range_cfr201_55.csv");
    size_t rows = cot_csv_count(csv);
    ck_assert_uint_eq(rows, 50); /* 49 averages, 99 to 51 */
    for (size_t i = 1; i < rows; i++) {
        int average = (int)value_real(csv, i, "average"), mirror = (int)value_real(csv, i, "mirror");
        ck_assert_int_eq(average, 100 - (int)i);
        ck_assert_int_eq(cot_range_most(4, average), (int)value_real(csv, i, "of_4"));
        ck_assert_int_eq(cot_range_most(4, mirror), (int)value_real(csv, i, "of_4"));
        ck_assert_int_eq(cot_range_most(2, average), (int)value_real(csv, i, "of_2"));
        ck_assert_int_eq(cot_range_most(2, mirror), (int)value_real(csv, i, "of_2"));
    }
    cot_csv_free(csv);
}
END_TEST

/* Four replicates with this average and range; the range is not 1. */
static struct cot_replicates four(int average, int range)
{
    int up = range / 2, down = range - up;
    return (struct cot_replicates){4, {average + up, average - down, average, average + down - up}};
}

/* The table goes with the range that chance exceeds in 1 of 40 tests, four binomials at the average, to within one
 * seed: the largest range that chance reaches in 1 of 40 is worked out again here from cot_check_range's chance. */
START_TEST(range_by_chance)
{
    struct cot_csv *csv = values_open("replicate_range_cfr201_55.csv");
    for (size_t i = 1; i < cot_csv_count(csv); i++) {
        int average = (int)value_real(csv, i, "average"), most = 0;
        struct cot_range r;
        for (int range = 2; range / 2 + average <= 99; range++) {
            struct cot_replicates at = four(average, range);
            if (cot_replicates_fit(&at, 400, 4 * average, NULL) != COT_OK) break;
            ck_assert_int_eq(cot_check_range(&at, 400, &r, NULL), COT_OK);
            ck_assert_int_eq(r.average, average);
            ck_assert_int_eq(r.highest - r.lowest, range);
            ck_assert_int_eq(r.verdict, range > r.most ? COT_RANGE_RETEST : COT_RANGE_FITS);
            if (r.chance > 0.025) most = range; /* P(R >= range) above: P(R > range - 1) too */
        }
        int by_chance = (int)value_real(csv, i, "by_chance_4");
        /* Near 100 percent such replicates cannot be made. */
        if (average <= 90) ck_assert_int_eq(most, by_chance);
        ck_assert_int_le(abs(by_chance - cot_range_most(4, average)), 1);
    }
    cot_csv_free(csv);
}
END_TEST

START_TEST(tolerance_rows)
{
    struct cot_csv *csv = values_open("germination_tolerance_cfr201_63.csv");
    ck_assert_uint_eq(cot_csv_count(csv), 7);
    for (size_t i = 1; i < cot_csv_count(csv); i++) {
        double from = value_real(csv, i, "mean_at_least"), below = value_real(csv, i, "mean_below");
        int most = (int)value_real(csv, i, "tolerance");
        ck_assert_int_eq(cot_tolerance(from), most);
        ck_assert_int_eq(cot_tolerance(nextafter(below, 0)), most);
        ck_assert_int_eq(cot_tolerance((from + below) / 2), most);
    }
    ck_assert_int_eq(cot_tolerance(100), 5);
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
    Suite *s = suite_create("reference/germination");
    add(s, "range", range_rows);
    add(s, "chance", range_by_chance);
    add(s, "tolerance", tolerance_rows);
    return s;
}
