/* Reading the published values beside the tests. */
#ifndef COT_TESTS_REFERENCE_VALUES_H
#define COT_TESTS_REFERENCE_VALUES_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../main.h"
#include "cotyledger/wire/csv.h"

/* Opens tests/reference/data/NAME; the caller frees it with cot_csv_free. */
static inline struct cot_csv *values_open(const char *name)
{
    char path[1024];
    struct cot_fault fault;
    struct cot_csv *csv = NULL;
    snprintf(path, sizeof path, "%s/reference/data/%s", COT_TESTS_DIR, name);
    FILE *f = fopen(path, "rb");
    ck_assert_msg(f != NULL, "%s: cannot be opened", path);
    char *bytes = malloc(1 << 20);
    ck_assert_ptr_nonnull(bytes);
    size_t len = fread(bytes, 1, 1 << 20, f);
    fclose(f);
    ck_assert_msg(cot_csv_open(bytes, len, &csv, &fault) == COT_OK, "%s", fault.msg);
    free(bytes);
    return csv;
}

/* The cell under a heading in record i (1 = the first below the headings). */
static inline const char *value_text(const struct cot_csv *csv, size_t i, const char *heading)
{
    const struct cot_csv_record *head = cot_csv_record(csv, 0), *r = cot_csv_record(csv, i);
    for (size_t k = 0; k < head->count && k < r->count; k++)
        if (strcmp(head->cell[k], heading) == 0) return r->cell[k];
    ck_abort_msg("no column %s", heading);
    return "";
}

static inline double value_real(const struct cot_csv *csv, size_t i, const char *heading)
{
    char *end;
    const char *text = value_text(csv, i, heading);
    double x = strtod(text, &end);
    ck_assert_msg(end != text && *end == '\0', "%s is no number", text);
    return x;
}

#endif
