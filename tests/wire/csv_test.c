/* CSV by RFC 4180 section 2, and the dialects that spreadsheets save. Records are shown as cells in brackets: [a][b].
 */
#include "../main.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/wire/csv.h"

/* "[a][b]\n[c][d]\n" of a whole file. */
static void flatten(const struct cot_csv *c, struct cot_buf *out)
{
    cot_buf_str(out, "");
    for (size_t i = 0; i < cot_csv_count(c); i++) {
        const struct cot_csv_record *r = cot_csv_record(c, i);
        for (size_t k = 0; k < r->count; k++) {
            ck_assert_uint_eq(strlen(r->cell[k]), r->len[k]);
            cot_buf_fmt(out, "[%s]", r->cell[k]);
        }
        cot_buf_str(out, "\n");
    }
}

static const struct {
    const char *what, *bytes, *want;
} good[] = {
    {"RFC 4180 2.1: records on lines of their own, ended by CRLF", "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
     "[aaa][bbb][ccc]\n[zzz][yyy][xxx]\n"},
    {"RFC 4180 2.2: the last record may lack its line end", "aaa,bbb,ccc\r\nzzz,yyy,xxx",
     "[aaa][bbb][ccc]\n[zzz][yyy][xxx]\n"},
    {"RFC 4180 2.3: a header line is a record like any other", "name,qty\r\nred,5\r\n", "[name][qty]\n[red][5]\n"},
    {"RFC 4180 2.4: a comma after the last field makes an empty one", "a,b,\r\n", "[a][b][]\n"},
    {"against 2.4: blanks around a cell are not its own", " a , b b ,\t c \r\n", "[a][b b][c]\n"},
    {"RFC 4180 2.5: quoted or not", "\"aaa\",\"bbb\",ccc\r\n", "[aaa][bbb][ccc]\n"},
    {"RFC 4180 2.6: line breaks and commas inside quotes", "\"aaa\",\"b \r\nb,b\",\"ccc\"\r\nzzz,yyy,xxx",
     "[aaa][b \r\nb,b][ccc]\n[zzz][yyy][xxx]\n"},
    {"RFC 4180 2.7: a quote inside quotes is doubled", "\"aaa\",\"b\"\"bb\",\"\"\"\"\r\n", "[aaa][b\"bb][\"]\n"},
    {"LF alone", "a,b\nc,d\n", "[a][b]\n[c][d]\n"},
    {"semicolons", "a;b,5\r\nc;1,5\r\n", "[a][b,5]\n[c][1,5]\n"},
    {"tabs, and an empty cell at the start", "a\tb\n\td\n", "[a][b]\n[][d]\n"},
    {"the first record decides, whatever stands in quotes", "\"a,b,c\";d\n1;2\n", "[a,b,c][d]\n[1][2]\n"},
    {"byte order mark",
     "\xef\xbb\xbf"
     "a,b\n",
     "[a][b]\n"},
    {"blank records are left out", "\n\r\na,b\n,,\n \n\"\"\nc,d\n\n", "[a][b]\n[c][d]\n"},
    {"blanks before and behind quotes", "a , \"b\" ,c\n", "[a][b][c]\n"},
    {"no-break blanks are blanks",
     "\xc2\xa0"
     "a\xc2\xa0,b\n",
     "[a][b]\n"},
    {"text in UTF-8", "Vari\xc3\xa9t\xc3\xa9;\xe5\xb8\x8c\n", "[Vari\xc3\xa9t\xc3\xa9][\xe5\xb8\x8c]\n"},
    {"one column", "a\nb\n", "[a]\n[b]\n"},
    {"a quoted cell at the very end", "a,\"b\"", "[a][b]\n"},
    {"nothing", "", ""},
};

START_TEST(reads)
{
    struct cot_csv *c = NULL;
    struct cot_fault fault = {0};
    struct cot_buf out = {0};
    ck_assert_msg(cot_csv_open(good[_i].bytes, strlen(good[_i].bytes), &c, &fault) == COT_OK, "%s: %s", good[_i].what,
                  fault.msg);
    flatten(c, &out);
    ck_assert_msg(strcmp(out.s, good[_i].want) == 0, "%s: got %s", good[_i].what, out.s);
    cot_buf_free(&out);
    cot_csv_free(c);
}
END_TEST

static const struct {
    const char *what, *bytes;
    size_t len;
    const char *want;
} bad[] = {
    {"RFC 4180 2.5: a quote in a plain cell", "a,b\nc,4\" pot\n", 0, "line 2, column 4: a quote inside"},
    {"text behind a closing quote", "a,\"b\"c\n", 0, "line 1, column 6: text after a closing quote"},
    {"a quote never closed: where it was opened", "a,b\nc,\"d\ne\nf,g\n", 0,
     "line 2, column 3: this quote is never closed"},
    {"a lone carriage return", "a,b\rc,d\n", 0, "line 1, column 4: a carriage return"},
    {"a byte that is no UTF-8", "a,b\nc,d\nVari\xe9t\xe9,e\n", 0, "line 3, column 5: a byte here is no text"},
    {"columns are counted in characters", "\xc3\xa9\xc3\xa9,\xff\n", 0, "line 1, column 4: a byte here"},
    {"an overlong form", "a,\xc0\xaf\n", 0, "line 1, column 3: a byte here"},
    {"a surrogate", "a,\xed\xa0\x80\n", 0, "line 1, column 3: a byte here"},
    {"a NUL", "a,b\nc\0d,e\n", 10, "line 2, column 2: a byte here"},
    {"UTF-16",
     "\xff\xfe"
     "a\0,\0",
     6, "line 1, column 1: the file is UTF-16"},
    {"text behind a quoted line break: the line it is on", "\"a\nb\"c,d\n", 0,
     "line 2, column 3: text after a closing quote"},
};

START_TEST(refuses)
{
    struct cot_csv *c = NULL;
    struct cot_fault fault = {0};
    size_t len = bad[_i].len ? bad[_i].len : strlen(bad[_i].bytes);
    ck_assert_int_eq(cot_csv_open(bad[_i].bytes, len, &c, &fault), COT_MALFORMED);
    ck_assert_ptr_null(c);
    ck_assert_msg(strncmp(fault.msg, bad[_i].want, strlen(bad[_i].want)) == 0, "%s: %s", bad[_i].what, fault.msg);
    ck_assert_msg(fault.hint[0] != '\0', "%s: says not what to do", bad[_i].what);
}
END_TEST

START_TEST(lines_of_records)
{
    static const char bytes[] = "h,i\n\n\"a\nb\",c\nd,e\n";
    struct cot_csv *c = NULL;
    ck_assert_int_eq(cot_csv_open(bytes, strlen(bytes), &c, NULL), COT_OK);
    ck_assert_uint_eq(cot_csv_count(c), 3);
    ck_assert_uint_eq(cot_csv_record(c, 0)->line, 1);
    ck_assert_uint_eq(cot_csv_record(c, 1)->line, 3);
    ck_assert_uint_eq(cot_csv_record(c, 2)->line, 5);
    ck_assert_ptr_null(cot_csv_record(c, 3));
    cot_csv_free(c);
}
END_TEST

static enum cot_err open_filled(const char *unit, size_t times, size_t *count)
{
    struct cot_csv *c = NULL;
    struct cot_buf b = {0};
    for (size_t i = 0; i < times; i++) cot_buf_str(&b, unit);
    ck_assert(!b.failed);
    enum cot_err err = cot_csv_open(b.s, b.len, &c, NULL);
    if (err == COT_OK) *count = cot_csv_count(c);
    if (err == COT_OK) cot_csv_free(c);
    cot_buf_free(&b);
    return err;
}

START_TEST(limits)
{
    size_t n = 0;
    ck_assert_int_eq(open_filled("x,", COT_CSV_COLUMNS_MAX - 1, &n), COT_OK);
    ck_assert_int_eq(open_filled("x,", COT_CSV_COLUMNS_MAX, &n), COT_TOO_LARGE);
    ck_assert_int_eq(open_filled("x\n", COT_CSV_RECORDS_MAX, &n), COT_OK);
    ck_assert_uint_eq(n, COT_CSV_RECORDS_MAX);
    ck_assert_int_eq(open_filled("x\n", COT_CSV_RECORDS_MAX + 1, &n), COT_TOO_LARGE);
    ck_assert_int_eq(open_filled("0123456789abcdef", (COT_CSV_BYTES_MAX >> 4) + 1, &n), COT_TOO_LARGE);
}
END_TEST

/* What our own writer puts into a CSV cell is read back as it was, but for the apostrophe before a formula. */
START_TEST(reads_what_is_written)
{
    static const char *const cells[] = {"plain", "a,b", "a\"b", "a;b",      "two\nlines",
                                        "=1+1",  "-5",  "@x",   "\xc3\xa9", ""};
    for (size_t i = 0; i < sizeof cells / sizeof cells[0]; i++) {
        struct cot_buf b = {0};
        struct cot_csv *c = NULL;
        cot_buf_str(&b, "first,");
        cot_put_csv(&b, cells[i], strlen(cells[i]));
        cot_buf_str(&b, ",last\r\n");
        ck_assert_int_eq(cot_csv_open(b.s, b.len, &c, NULL), COT_OK);
        const char *got = cot_csv_record(c, 0)->cell[1];
        bool formula = cells[i][0] && strchr("=+-@", cells[i][0]);
        ck_assert_int_eq(formula, got[0] == '\'');
        ck_assert_str_eq(got + formula, cells[i]);
        cot_csv_free(c);
        cot_buf_free(&b);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/csv");
    TCase *t = tcase_create("rules");
    tcase_add_loop_test(t, reads, 0, (int)(sizeof good / sizeof good[0]));
    tcase_add_loop_test(t, refuses, 0, (int)(sizeof bad / sizeof bad[0]));
    tcase_add_test(t, lines_of_records);
    tcase_add_test(t, reads_what_is_written);
    suite_add_tcase(s, t);
    TCase *limit = tcase_create("limits");
    tcase_set_timeout(limit, 60);
    tcase_add_test(limit, limits);
    suite_add_tcase(s, limit);
    return s;
}
