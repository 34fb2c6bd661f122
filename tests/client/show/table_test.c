/* Tables in three forms, and running text in 80 columns. */
#include "show/table.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "cotyledger/wire/csv.h"
#include "main.h"

static const struct cot_col cols[] = {
    {"name", "Name", false, false}, {"hidden", NULL, false, false}, {"plants", "Plants", true, false},
    {"own", "Own", false, true},    {"date", "Date", false, false},
};
enum { COLS = sizeof cols / sizeof cols[0] };

static void fill(struct cot_table *t, const char *const *names, size_t n)
{
    cot_table_init(t, cols, COLS);
    for (size_t i = 0; i < n; i++) {
        cot_table_text(t, names[i]);
        cot_table_fmt(t, "h%zu", i);
        cot_table_int(t, (int64_t)i * 1000);
        cot_table_yes(t, i % 2 == 0);
        cot_table_day(t, i == 0 ? COT_DAY_NONE : cot_day_of(2027, 3, (int)i));
    }
}

static void put(const char *const *names, size_t n, enum cot_form form, struct cot_buf *out)
{
    struct cot_table t;
    fill(&t, names, n);
    ck_assert_uint_eq(cot_table_rows(&t), n);
    ck_assert_int_eq(cot_table_put(&t, form, "Nothing.", out), COT_OK);
    cot_table_free(&t);
}

START_TEST(aligned)
{
    static const char *const names[] = {"Alder", "\xe6\xb5\xb7\xe8\xbe\xba"};
    struct cot_buf b = {0};
    put(names, 2, COT_FORM_TEXT, &b);
    ck_assert_str_eq(
        b.s, "Name   Plants  Own  Date\nAlder       0  yes\n\xe6\xb5\xb7\xe8\xbe\xba     1000  no   2027-03-01\n");
    cot_buf_free(&b);
}
END_TEST

START_TEST(empty)
{
    struct cot_buf b = {0};
    put(NULL, 0, COT_FORM_TEXT, &b);
    ck_assert_str_eq(b.s, "Nothing.\n");
    cot_buf_clear(&b);
    put(NULL, 0, COT_FORM_CSV, &b);
    ck_assert_str_eq(b.s, "name,hidden,plants,own,date\r\n");
    cot_buf_clear(&b);
    put(NULL, 0, COT_FORM_JSON, &b);
    ck_assert_str_eq(b.s, "[]\n");
    cot_buf_free(&b);
}
END_TEST

/* Long names give way; numbers, codes and dates stay whole. */
START_TEST(fits_the_page)
{
    static const char *const names[] = {
        "a",
        "A Name of Very Many Words That Goes on Until No Page in the World Is Wide Enough for It, and Then Some",
    };
    struct cot_buf b = {0};
    put(names, 2, COT_FORM_TEXT, &b);
    ck_assert_ptr_nonnull(strstr(b.s, "\xe2\x80\xa6"));
    ck_assert_ptr_nonnull(strstr(b.s, "  1000  no   2027-03-01\n"));
    for (const char *p = b.s; *p; p += strcspn(p, "\n") + 1)
        ck_assert_uint_le(cot_text_columns(p, strcspn(p, "\n")), 80);
    cot_buf_free(&b);
}
END_TEST

/* No cell can move the cursor, turn the line round, run as a formula, or break out of its quotes. */
START_TEST(hostile_cells)
{
    static const char *const names[] = {"a\x1b[2Jb", "\xe2\x80\xaetxet", "=1+1", "quo\"te,\r\nline", "back\\slash"};
    struct cot_buf text = {0}, csv = {0}, js = {0};
    struct cot_csv *c = NULL;
    put(names, 5, COT_FORM_TEXT, &text);
    for (const char *p = text.s; *p; p++) ck_assert_msg(*p == '\n' || (unsigned char)*p >= ' ', "%s", text.s);
    ck_assert_ptr_null(strstr(text.s, "\xe2\x80\xae"));
    put(names, 5, COT_FORM_CSV, &csv);
    ck_assert_int_eq(cot_csv_open(csv.s, csv.len, &c, NULL), COT_OK);
    ck_assert_uint_eq(cot_csv_count(c), 6);
    ck_assert_str_eq(cot_csv_record(c, 3)->cell[0], "'=1+1");
    ck_assert_str_eq(cot_csv_record(c, 4)->cell[0], names[3]);
    put(names, 5, COT_FORM_JSON, &js);
    json_t *root = json_loadb(js.s, js.len, JSON_REJECT_DUPLICATES, NULL);
    ck_assert_ptr_nonnull(root);
    for (size_t i = 0; i < 5; i++)
        ck_assert_str_eq(json_string_value(json_object_get(json_array_get(root, i), "name")), names[i]);
    ck_assert(json_is_null(json_object_get(json_array_get(root, 0), "date")));
    ck_assert(json_is_true(json_object_get(json_array_get(root, 0), "own")));
    ck_assert_int_eq(json_integer_value(json_object_get(json_array_get(root, 3), "plants")), 3000);
    json_decref(root);
    cot_csv_free(c);
    cot_buf_free(&text);
    cot_buf_free(&csv);
    cot_buf_free(&js);
}
END_TEST

static const struct {
    const char *s;
    size_t column, indent;
    const char *want;
} texts[] = {
    {"", 0, 4, "\n"},
    {"a short line", 10, 4, "a short line\n"},
    {"one two", 76, 4, "one\n    two\n"},
    {"0123456789012345678901234567890123456789012345678901234567890123456789012345678901234", 0, 2,
     "01234567890123456789012345678901234567890123456789012345678901234567890123456789\n  01234\n"},
    {"a\nb", 0, 2, "a\\u{000A}b\n"},
};

START_TEST(paragraphs)
{
    struct cot_buf b = {0};
    cot_put_paragraph(&b, texts[_i].s, texts[_i].column, texts[_i].indent);
    ck_assert_str_eq(b.s, texts[_i].want);
    cot_buf_free(&b);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/show/table");
    TCase *t = tcase_create("tables");
    tcase_add_test(t, aligned);
    tcase_add_test(t, empty);
    tcase_add_test(t, fits_the_page);
    tcase_add_test(t, hostile_cells);
    tcase_add_loop_test(t, paragraphs, 0, (int)(sizeof texts / sizeof texts[0]));
    suite_add_tcase(s, t);
    return s;
}
