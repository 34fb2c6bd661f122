/* UTF-8, columns and escapes. */
#include "cotyledger/wire/bytes.h"
#include "files.h"

START_TEST(utf8)
{
    static const char *const good[] = {"",
                                       "plain",
                                       "\xc3\xa9",
                                       "\xe2\x82\xac",
                                       "\xf0\x9f\x8c\xb1",
                                       "\xed\x9f\xbf",
                                       "\xee\x80\x80",
                                       "\xf4\x8f\xbf\xbf"};
    static const char *const bad[] = {
        "\x80",         "\xc3",         "\xc0\xaf",         "\xc1\xbf",         "\xe0\x9f\xbf",         "\xe2\x82",
        "\xed\xa0\x80", "\xed\xbf\xbf", "\xf0\x8f\xbf\xbf", "\xf4\x90\x80\x80", "\xf8\x88\x80\x80\x80", "\xff",
        "a\xc3z",       "\xc3\xa9\xa9"};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
        ck_assert_msg(cot_utf8_valid(good[i], strlen(good[i])), "good %zu", i);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        ck_assert_msg(!cot_utf8_valid(bad[i], strlen(bad[i])), "bad %zu", i);
    ck_assert(!cot_utf8_valid("\xe2\x82\xac", 2));
}
END_TEST

START_TEST(columns)
{
    static const struct {
        const char *text;
        size_t columns;
    } row[] = {
        {"", 0},
        {"Lettuce", 7},
        {"caf\xc3\xa9", 4},
        {"cafe\xcc\x81", 4},             /* e and a combining acute */
        {"\xe6\x97\xa5\xe6\x9c\xac", 4}, /* two ideographs */
        {"\xf0\x9f\x8c\xb1", 2},         /* a seedling */
        {"\xef\xbc\xa1", 2},             /* fullwidth A */
        {"a\xe2\x80\x8b"
         "b",
         2},                 /* zero width space */
        {"\xed\x95\x9c", 2}, /* a Hangul syllable */
        {"\xff", 1},         /* a stray byte */
        {"\xe2\x82\xac", 1}, /* euro sign */
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        ck_assert_msg(cot_text_columns(row[i].text, strlen(row[i].text)) == row[i].columns, "row %zu: %zu", i,
                      cot_text_columns(row[i].text, strlen(row[i].text)));
}
END_TEST

typedef void put(struct cot_buf *b, const char *s, size_t len);
struct escape {
    const char *in, *out;
};

static void check(put *escape, const struct escape *row, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        struct cot_buf b = {0};
        escape(&b, row[i].in, strlen(row[i].in));
        ck_assert_str_eq(b.s, row[i].out);
        cot_buf_free(&b);
    }
}

START_TEST(terminal)
{
    static const struct escape row[] = {
        {"", ""},
        {"Red Harbour, caf\xc3\xa9", "Red Harbour, caf\xc3\xa9"},
        {"\x1b[2J", "\\u{001B}[2J"},
        {"a\nb\tc\x7f", "a\\u{000A}b\\u{0009}c\\u{007F}"},
        {"\xc2\x9b"
         "0m",
         "\\u{009B}0m"},
        {"\xe2\x80\xaegnp", "\\u{202E}gnp"},
        {"\xe2\x81\xa6x\xe2\x81\xa9", "\\u{2066}x\\u{2069}"},
        {"a\xe2\x80\x8b"
         "b",
         "a\\u{200B}b"},
        {"\xef\xbb\xbfx", "\\u{FEFF}x"},
        {"\xf3\xa0\x81\x81", "\\u{E0041}"},
        {"\xff", "\\x{FF}"},
    };
    check(cot_put_terminal, row, sizeof row / sizeof row[0]);
}
END_TEST

START_TEST(csv)
{
    static const struct escape row[] = {
        {"", ""},
        {"plain", "plain"},
        {"a,b", "\"a,b\""},
        {"a;b", "\"a;b\""},
        {"say \"so\"", "\"say \"\"so\"\"\""},
        {"two\nlines", "\"two\nlines\""},
        {"=1+1", "'=1+1"},
        {"+1", "'+1"},
        {"-1", "'-1"},
        {"@x", "'@x"},
        {"\tx", "\"'\tx\""},
        {"=a,b", "\"'=a,b\""},
        {" x", "\" x\""},
        {"x ", "\"x \""},
        {"a=b", "a=b"},
    };
    check(cot_put_csv, row, sizeof row / sizeof row[0]);
}
END_TEST

START_TEST(json)
{
    static const struct escape row[] = {
        {"", "\"\""},
        {"a \"b\" \\ /", "\"a \\\"b\\\" \\\\ /\""},
        {"a\nb\tc", "\"a\\nb\\u0009c\""},
        {"\x01\x1f\x7f\xc2\x85", "\"\\u0001\\u001f\\u007f\\u0085\""},
        {"caf\xc3\xa9 \xf0\x9f\x8c\xb1", "\"caf\xc3\xa9 \xf0\x9f\x8c\xb1\""},
        {"a\xff\xc3z", "\"a\\ufffd\\ufffdz\""},
    };
    check(cot_put_json, row, sizeof row / sizeof row[0]);
}
END_TEST

/* Any bytes at all give JSON that a parser reads. */
START_TEST(json_of_any_bytes)
{
    unsigned seed = 20261125, state = seed;
    for (int round = 0; round < 2000; round++) {
        char bytes[64];
        struct cot_buf b = {0};
        for (size_t i = 0; i < sizeof bytes; i++) bytes[i] = (char)((state = state * 1103515245u + 12345u) >> 16);
        cot_put_json(&b, bytes, sizeof bytes);
        json_t *v = json_loadb(b.s, b.len, JSON_DECODE_ANY | JSON_ALLOW_NUL, NULL);
        ck_assert_msg(json_is_string(v), "seed %u, round %d: %s", seed, round, b.s);
        json_decref(v);
        cot_buf_free(&b);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/text");
    TCase *t = tcase_create("text");
    tcase_add_test(t, utf8);
    tcase_add_test(t, columns);
    tcase_add_test(t, terminal);
    tcase_add_test(t, csv);
    tcase_add_test(t, json);
    tcase_add_test(t, json_of_any_bytes);
    suite_add_tcase(s, t);
    return s;
}
