/* The starter catalogue's crops and tray formats against published figures: seeds in a gram and lowest germination (US
 * federal seed rules), weeks in the tray (extension services), cells, volume and footprint of trays (common practice).
 */
#include <math.h>

#include "values.h"

static struct cot_csv *catalogue_open(const char *name)
{
    char path[64];
    snprintf(path, sizeof path, "../../../deploy/catalogue/%s", name);
    return values_open(path);
}

/* The record with that name; 0: none. */
static size_t named(const struct cot_csv *csv, const char *name)
{
    for (size_t i = 1; i < cot_csv_count(csv); i++)
        if (strcmp(value_text(csv, i, "Name"), name) == 0) return i;
    return 0;
}

static void equal_where_given(const struct cot_csv *crops, size_t crop, const char *heading,
                              const struct cot_csv *table, size_t row, const char *column, int *compared)
{
    const char *want = value_text(table, row, column), *got = value_text(crops, crop, heading);
    ck_assert_msg(strcmp(want, got) == 0, "%s, %s: %s, published %s", value_text(crops, crop, "Name"), heading, got,
                  want);
    *compared += *want != '\0';
}

START_TEST(seed_of_the_federal_rules)
{
    struct cot_csv *crops = catalogue_open("crops.csv"), *table = values_open("vegetable_seed_cfr201_46_31.csv");
    int grams = 0, germs = 0;
    for (size_t i = 1; i < cot_csv_count(table); i++) {
        size_t crop = named(crops, value_text(table, i, "crop"));
        ck_assert_msg(crop, "%s is not in the catalogue", value_text(table, i, "crop"));
        equal_where_given(crops, crop, "Seeds per gram", table, i, "seeds_per_gram", &grams);
        equal_where_given(crops, crop, "Minimum germination %", table, i, "min_germination_percent", &germs);
    }
    ck_assert_int_eq(cot_csv_count(crops), cot_csv_count(table));
    ck_assert(grams == 41 && germs == 42);
    cot_csv_free(crops);
    cot_csv_free(table);
}
END_TEST

/* From ready to past use: no shorter than the shortest and no longer than the longest of the published weeks. */
START_TEST(days_within_published_weeks)
{
    struct cot_csv *crops = catalogue_open("crops.csv"), *table = values_open("weeks_in_tray.csv");
    int compared = 0;
    for (size_t crop = 1; crop < cot_csv_count(crops); crop++) {
        double low = INFINITY, high = 0;
        const char *name = value_text(crops, crop, "Name");
        for (size_t i = 1; i < cot_csv_count(table); i++) {
            if (strcmp(value_text(table, i, "crop"), name) != 0) continue;
            low = fmin(low, 7 * value_real(table, i, "weeks_from"));
            high = fmax(high, 7 * value_real(table, i, "weeks_to"));
        }
        if (high == 0) continue;
        double ready = value_real(crops, crop, "Days in tray"), past = value_real(crops, crop, "Longest in tray");
        ck_assert_msg(ready >= low && ready < past && past <= high, "%s: %g to %g days, published %g to %g", name,
                      ready, past, low, high);
        compared++;
    }
    ck_assert_int_eq(compared, 27);
    cot_csv_free(crops);
    cot_csv_free(table);
}
END_TEST

/* Every format's rows x columns are the cells in its name. */
START_TEST(rows_by_columns_are_cells)
{
    struct cot_csv *formats = catalogue_open("formats.csv");
    for (size_t i = 1; i < cot_csv_count(formats); i++) {
        double cells = value_real(formats, i, "Rows") * value_real(formats, i, "Columns");
        ck_assert_msg(cells == strtod(value_text(formats, i, "Name"), NULL), "%s: %g cells",
                      value_text(formats, i, "Name"), cells);
    }
    ck_assert_uint_eq(cot_csv_count(formats), 14);
    cot_csv_free(formats);
}
END_TEST

/* Volume within the 0.4 % by which the table's two columns differ (1 in = 25.4 mm, so 1 cubic inch = 16.387064 mL: NIST
 * SP 811, Thompson and Taylor 2008, appendix B), sides to the half millimetre. */
START_TEST(cells_of_trays)
{
    const double ml = 16.387064, mm = 25.4;
    struct cot_csv *formats = catalogue_open("formats.csv"), *table = values_open("tray_cells.csv");
    for (size_t i = 1; i < cot_csv_count(table); i++) {
        size_t f = named(formats, value_text(table, i, "format"));
        ck_assert_msg(f, "no format %s", value_text(table, i, "format"));
        double volume = value_real(formats, f, "Cell volume (mL)");
        ck_assert_double_eq(value_real(formats, f, "Rows") * value_real(formats, f, "Columns"),
                            value_real(table, i, "cells"));
        ck_assert_double_eq_tol(volume, value_real(table, i, "cubic_inches") * ml, 0.004 * volume);
        ck_assert_double_eq_tol(volume, value_real(table, i, "ml"), 0.06);
        ck_assert_double_eq_tol(value_real(formats, f, "Length (mm)"), value_real(table, i, "length_in") * mm, 0.5);
        ck_assert_double_eq_tol(value_real(formats, f, "Width (mm)"), value_real(table, i, "width_in") * mm, 0.5);
    }
    ck_assert_uint_eq(cot_csv_count(table), 7);
    cot_csv_free(formats);
    cot_csv_free(table);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("reference/catalogue");
    TCase *c = tcase_create("catalogue");
    tcase_add_test(c, seed_of_the_federal_rules);
    tcase_add_test(c, days_within_published_weeks);
    tcase_add_test(c, rows_by_columns_are_cells);
    tcase_add_test(c, cells_of_trays);
    suite_add_tcase(s, c);
    return s;
}
