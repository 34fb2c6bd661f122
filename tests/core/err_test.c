/* Errors: the table is whole, faults keep their words. */
#include "../main.h"
#include "cotyledger/core/err.h"

#include <string.h>

START_TEST(table_is_whole)
{
    for (int i = 0; i < COT_ERR_COUNT; i++) {
        const struct cot_err_row *row = cot_err_row((enum cot_err)i);
        ck_assert_ptr_nonnull(row->name);
        ck_assert_uint_gt(strlen(row->name), 1);
        ck_assert_uint_eq(strspn(row->name, "abcdefghijklmnopqrstuvwxyz_"), strlen(row->name));
        ck_assert_uint_gt(strlen(row->title), 1);
        ck_assert_int_eq(cot_err_by_name(row->name), i); /* so names differ */
        if (i == COT_OK) continue;
        ck_assert_int_ge(row->http_status, 400);
        ck_assert_int_le(row->http_status, 599);
        ck_assert_int_ge(row->exit_code, 2); /* 1 is left to what ends us from outside */
        ck_assert_int_le(row->exit_code, 12);
    }
    ck_assert_int_eq(cot_err_row(COT_OK)->exit_code, 0);
}
END_TEST

START_TEST(unknown_codes_and_names)
{
    ck_assert_ptr_eq(cot_err_row((enum cot_err)COT_ERR_COUNT), cot_err_row(COT_INTERNAL));
    ck_assert_ptr_eq(cot_err_row((enum cot_err) - 1), cot_err_row(COT_INTERNAL));
    ck_assert_int_eq(cot_err_by_name("no_such"), COT_INTERNAL);
    ck_assert_int_eq(cot_err_by_name(""), COT_INTERNAL);
}
END_TEST

START_TEST(words)
{
    struct cot_fault f;
    memset(&f, 'x', sizeof f);
    ck_assert_int_eq(cot_fail(&f, COT_INVALID, "line %d: %s", 3, "no number"), COT_INVALID);
    ck_assert_str_eq(f.msg, "line 3: no number");
    ck_assert_str_eq(f.hint, "");
    ck_assert_int_eq(cot_hint(&f, "write %d", 7), COT_INVALID);
    ck_assert_str_eq(f.hint, "write 7");
    ck_assert_int_eq(cot_within(&f, "%s", "orders.csv"), COT_INVALID);
    ck_assert_str_eq(f.msg, "orders.csv: line 3: no number");
    ck_assert_int_eq(cot_fail(&f, COT_STORE, "again: %s", f.msg), COT_STORE); /* the old message as an argument */
    ck_assert_str_eq(f.msg, "again: orders.csv: line 3: no number");
    ck_assert_int_eq(cot_hint(&f, "%s", f.msg), COT_STORE);
    ck_assert_str_eq(f.hint, f.msg);
}
END_TEST

START_TEST(nobody_listens)
{
    ck_assert_int_eq(cot_fail(NULL, COT_IO, "x"), COT_IO);
    ck_assert_int_eq(cot_hint(NULL, "x"), COT_INTERNAL);
    ck_assert_int_eq(cot_within(NULL, "x"), COT_INTERNAL);
}
END_TEST

/* Cut at the size, but never inside a character of several bytes. */
START_TEST(long_words_are_cut_between_characters)
{
    struct cot_fault f;
    char text[3 * COT_FAULT_MAX];
    for (size_t shift = 0; shift < 4; shift++) {
        memset(text, 'a', sizeof text);
        for (size_t i = shift; i + 3 < sizeof text; i += 3) memcpy(text + i, "\xE2\x82\xAC", 3); /* a three-byte sign */
        text[sizeof text - 1] = '\0';
        (void)cot_fail(&f, COT_IO, "%s", text);
        size_t n = strlen(f.msg);
        ck_assert_uint_lt(n, COT_FAULT_MAX);
        ck_assert_uint_gt(n, COT_FAULT_MAX - 5);
        ck_assert_uint_eq((n - shift) % 3, 0);
        (void)cot_within(&f, "file");
        ck_assert_uint_eq((strlen(f.msg) - shift - 6) % 3, 0);
        ck_assert_int_eq(strncmp(f.msg, "file: ", 6), 0);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("err");
    TCase *t = tcase_create("err");
    tcase_add_test(t, table_is_whole);
    tcase_add_test(t, unknown_codes_and_names);
    tcase_add_test(t, words);
    tcase_add_test(t, nobody_listens);
    tcase_add_test(t, long_words_are_cut_between_characters);
    suite_add_tcase(s, t);
    return s;
}
