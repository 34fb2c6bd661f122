/* Problem documents: what the server writes the client reads, and what is no problem document is not mistaken for one.
 */
#include "cotyledger/wire/request.h"
#include "files.h"

START_TEST(written_is_read)
{
    for (int code = 1; code < COT_ERR_COUNT; code++) {
        struct cot_fault f, back;
        struct cot_buf out = {0};
        cot_fail(&f, (enum cot_err)code, "page, number 7: \"quoted\" and caf\xc3\xa9\nsecond line");
        cot_hint(&f, "do this");
        cot_problem_write(&f, NULL, &out);
        ck_assert(!out.failed);
        cot_problem_read(out.s, out.len, &back);
        ck_assert_int_eq(back.code, code);
        ck_assert_str_eq(back.msg, f.msg);
        ck_assert_str_eq(back.hint, "do this");
        cot_buf_free(&out);
    }
}
END_TEST

START_TEST(exact_form)
{
    struct cot_fault f;
    struct cot_buf out = {0};
    int64_t n = 0;
    char text[8];
    cot_fail(&f, COT_FORK, "number 7 is there already");
    cot_problem_write(&f, "\"number\":9,\"chain\":\"abc\"", &out);
    ck_assert_str_eq(out.s,
                     "{\"type\":\"urn:cotyledger:problem:fork\",\"title\":\"journal went on twice\",\"status\":409,"
                     "\"detail\":\"number 7 is there already\",\"number\":9,\"chain\":\"abc\"}");
    ck_assert(cot_problem_int(out.s, out.len, "number", &n) && n == 9);
    ck_assert(cot_problem_text(out.s, out.len, "chain", text, sizeof text));
    ck_assert_str_eq(text, "abc");
    ck_assert(!cot_problem_text(out.s, out.len, "chain", text, 3));
    ck_assert(!cot_problem_int(out.s, out.len, "chain", &n));
    ck_assert(!cot_problem_int(out.s, out.len, "absent", &n));
    cot_buf_free(&out);
}
END_TEST

START_TEST(not_ours)
{
    static const char *const other[] = {"",
                                        "not json",
                                        "[]",
                                        "{}",
                                        "{\"type\":7}",
                                        "{\"type\":\"about:blank\"}",
                                        "<html>",
                                        "{\"type\":\"urn:cotyledger:problem:fork\""};
    for (size_t i = 0; i < sizeof other / sizeof other[0]; i++) {
        struct cot_fault f;
        int64_t n;
        cot_problem_read(other[i], strlen(other[i]), &f);
        ck_assert_int_eq(f.code, COT_NETWORK);
        ck_assert(f.msg[0] && f.hint[0]);
        ck_assert(!cot_problem_int(other[i], strlen(other[i]), "type", &n) || i == 4);
    }
}
END_TEST

START_TEST(unknown_names_and_long_texts)
{
    struct cot_fault f;
    struct cot_buf b = {0};
    static const char ok[] = "{\"type\":\"urn:cotyledger:problem:ok\"}",
                      odd[] = "{\"type\":\"urn:cotyledger:problem:odd\"}";
    cot_problem_read(ok, strlen(ok), &f);
    ck_assert_int_eq(f.code, COT_INTERNAL);
    cot_problem_read(odd, strlen(odd), &f);
    ck_assert_int_eq(f.code, COT_INTERNAL);
    ck_assert(f.msg[0]);
    cot_buf_str(&b, "{\"type\":\"urn:cotyledger:problem:busy\",\"detail\":\"x");
    for (int i = 0; i < 1000; i++) cot_buf_str(&b, "\xc3\xa9");
    cot_buf_str(&b, "\"}");
    cot_problem_read(b.s, b.len, &f);
    ck_assert_int_eq(f.code, COT_BUSY);
    ck_assert_uint_eq(strlen(f.msg), COT_FAULT_MAX - 1); /* x and 511 whole letters */
    ck_assert(cot_utf8_valid(f.msg, strlen(f.msg)));
    cot_buf_free(&b);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/problem");
    TCase *t = tcase_create("problem");
    tcase_add_test(t, written_is_read);
    tcase_add_test(t, exact_form);
    tcase_add_test(t, not_ours);
    tcase_add_test(t, unknown_names_and_long_texts);
    suite_add_tcase(s, t);
    return s;
}
