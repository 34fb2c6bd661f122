/* CSV by vectors: files of vectors/csv/accept against the records of vectors/csv/expected, files of reject against the
 * words of why. */
#include "cotyledger/wire/csv.h"
#include "files.h"

/* The file of the same name in another folder, with another ending. */
static void beside(const struct file *f, const char *folder, const char *ending, struct file *out)
{
    char path[1024];
    const char *slash = strrchr(f->path, '/'), *dot = strrchr(f->path, '.');
    snprintf(path, sizeof path, "%s/vectors/csv/%s%.*s%s", COT_TESTS_DIR, folder, (int)(dot - slash), slash, ending);
    file_read(path, out);
}

static void same_record(const struct file *f, const struct cot_csv_record *r, const json_t *want)
{
    const json_t *cells = json_object_get(want, "cells");
    ck_assert_msg((json_int_t)r->line == json_integer_value(json_object_get(want, "line")), "%s: line %zu", f->path,
                  r->line);
    ck_assert_msg(r->count == json_array_size(cells), "%s, line %zu: %zu cells", f->path, r->line, r->count);
    for (size_t i = 0; i < r->count; i++) {
        const char *cell = json_string_value(json_array_get(cells, i));
        ck_assert_msg(strcmp(r->cell[i], cell) == 0, "%s, line %zu: cell %zu is \"%s\"", f->path, r->line, i + 1,
                      r->cell[i]);
        ck_assert_uint_eq(r->len[i], strlen(cell));
    }
}

static void accepts(const struct file *f)
{
    struct file expected;
    struct cot_csv *csv;
    struct cot_fault fault;
    ck_assert_msg(cot_csv_open(f->bytes, f->len, &csv, &fault) == COT_OK, "%s: %s", f->path, fault.msg);
    beside(f, "expected", ".json", &expected);
    json_t *root = file_json(&expected);
    const json_t *records = json_object_get(root, "records");
    ck_assert_msg(cot_csv_count(csv) == json_array_size(records), "%s: %zu records", f->path, cot_csv_count(csv));
    for (size_t i = 0; i < cot_csv_count(csv); i++) same_record(f, cot_csv_record(csv, i), json_array_get(records, i));
    json_decref(root);
    free(expected.bytes);
    cot_csv_free(csv);
}

static void rejects(const struct file *f)
{
    struct file why;
    struct cot_csv *csv;
    struct cot_fault fault = {0};
    beside(f, "why", ".txt", &why);
    why.bytes[strcspn(why.bytes, "\n")] = '\0';
    ck_assert_msg(cot_csv_open(f->bytes, f->len, &csv, &fault) == COT_MALFORMED, "%s: accepted", f->path);
    ck_assert_msg(strstr(fault.msg, why.bytes) != NULL, "%s: not \"%s\" but: %s", f->path, why.bytes, fault.msg);
    ck_assert_msg(fault.hint[0] != '\0', "%s: no hint", f->path);
    free(why.bytes);
}

START_TEST(accepting_vectors)
{
    each_file("vectors/csv/accept", 18, accepts);
}
END_TEST

START_TEST(rejecting_vectors)
{
    each_file("vectors/csv/reject", 7, rejects);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/csv_vectors");
    TCase *t = tcase_create("csv_vectors");
    tcase_add_test(t, accepting_vectors);
    tcase_add_test(t, rejecting_vectors);
    suite_add_tcase(s, t);
    return s;
}
