/* server/core/code.c: the check character, tags, and reading what was typed. */
#include <stdio.h>
#include <string.h>

#include "../main.h"
#include "cotyledger/core/code.h"
#include "seed.h"

static const char letters[] = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/* The Global Release Identifier standard (IFPI), A1-2425G-ABC1234002-M, uses this check (from memory). */
START_TEST(published_example)
{
    ck_assert_int_eq(cot_check_mod37_36("A12425GABC1234002", 17), 'M');
    ck_assert_int_eq(cot_check_mod37_36("a1", 2), '\0');
    ck_assert_int_eq(cot_check_mod37_36("A-1", 3), '\0');
}
END_TEST

/* Characters of a code without dashes. */
static size_t plain_of(const char *code, char out[static 16])
{
    size_t n = 0;
    for (; *code; code++)
        if (*code != '-') out[n++] = *code;
    out[n] = '\0';
    return n;
}

static bool fits(const char *plain, size_t n)
{
    return cot_check_mod37_36(plain, n - 1) == plain[n - 1];
}

START_TEST(wrong_characters_and_swaps)
{
    long wrong = 0, swaps = 0, missed = 0;
    for (uint32_t number = 1; number < 3000; number += 7) {
        for (uint32_t t = 0; t < 60; t += 11) {
            char tag[COT_TAG_MAX + 1], code[COT_CODE_TEXT], plain[16];
            ck_assert(cot_tag_nth(t, tag));
            cot_code_make(tag, number, code);
            size_t n = plain_of(code, plain);
            sure(fits(plain, n));
            for (size_t i = 0; i < n; i++) {
                char was = plain[i];
                for (const char *c = letters; *c; c++) {
                    if (*c == was) continue;
                    plain[i] = *c;
                    if (fits(plain, n)) ck_abort_msg("%s passes for %s", plain, code);
                    wrong++;
                }
                plain[i] = was;
            }
            for (size_t i = 0; i + 1 < n; i++) {
                if (plain[i] == plain[i + 1]) continue;
                char first = plain[i];
                plain[i] = plain[i + 1];
                plain[i + 1] = first;
                missed += fits(plain, n);
                swaps++;
                plain[i + 1] = plain[i];
                plain[i] = first;
            }
        }
    }
    printf("%ld wrong characters: all caught; %ld swaps of neighbours: %ld missed\n", wrong, swaps, missed);
    ck_assert_int_gt(swaps, 1000);
    ck_assert_msg(missed * 100 < swaps, "%ld of %ld swaps missed", missed, swaps);
}
END_TEST

START_TEST(tags)
{
    char tag[COT_TAG_MAX + 1], before[COT_TAG_MAX + 1] = "";
    static const struct {
        uint32_t i;
        const char *tag;
    } rows[] = {{0, "A"}, {25, "Z"}, {26, "AA"}, {27, "AB"}, {26 + 676 - 1, "ZZ"}, {26 + 676, "AAA"}, {475253, "ZZZZ"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        ck_assert(cot_tag_nth(rows[i].i, tag));
        ck_assert_str_eq(tag, rows[i].tag);
    }
    ck_assert(!cot_tag_nth(475254, tag));
    ck_assert(!cot_tag_nth(UINT32_MAX, tag));
    for (uint32_t i = 0; i < 475254; i++) { /* each after the one before: so no two are the same */
        sure(cot_tag_nth(i, tag));
        size_t n = strlen(tag), m = strlen(before);
        sure(cot_tag_valid(tag, n));
        sure(n > m || (n == m && strcmp(tag, before) > 0));
        memcpy(before, tag, sizeof tag);
    }
    ck_assert(!cot_tag_valid("", 0));
    ck_assert(!cot_tag_valid("ABCDE", 5));
    ck_assert(!cot_tag_valid("a", 1));
    ck_assert(!cot_tag_valid("A1", 2));
}
END_TEST

static void check_read(const char *typed, enum cot_code_state want, const char *written)
{
    char out[COT_CODE_TEXT] = "";
    enum cot_code_state got = cot_code_read(typed, strlen(typed), out);
    ck_assert_msg(got == want, "\"%s\": state %d, not %d", typed, (int)got, (int)want);
    if (written) ck_assert_str_eq(out, written);
}

START_TEST(typed)
{
    char code[COT_CODE_TEXT];
    cot_code_make("B", 417, code);
    ck_assert_str_eq(code, "B-0417-5");
    cot_code_make("AC", 12345, code);
    ck_assert_str_eq(code, "AC-12345-L");
    static const char *const good[] = {"B-0417-5", "b-0417-5",   "b0417-5", "B 0417 5", "b417-5",
                                       "b-417-5",  " b-0417 5 ", "b04175",  "B-00417-5"};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) check_read(good[i], COT_CODE_GOOD, "B-0417-5");
    check_read("ac12345l", COT_CODE_GOOD, "AC-12345-L");
    check_read("ac 12345 l", COT_CODE_GOOD, "AC-12345-L");

    static const char *const mistyped[] = {"B-0417-6", "B-0471-5", "C-0417-5", "ac12345k"};
    for (size_t i = 0; i < sizeof mistyped / sizeof mistyped[0]; i++) check_read(mistyped[i], COT_CODE_CHECK, NULL);

    static const char *const other[] = {"",
                                        "B",
                                        "0417",
                                        "B-0417",
                                        "B417",
                                        "lettuce",
                                        "B-0417-5!",
                                        "ABCDE-0001-1",
                                        "B-04x7-5",
                                        "B-0000-9",
                                        "B-12345678-1",
                                        "B--",
                                        "\xc3\x84-0417-5",
                                        "B-0417-55555555555"};
    for (size_t i = 0; i < sizeof other / sizeof other[0]; i++) check_read(other[i], COT_CODE_SHAPE, NULL);
}
END_TEST

/* A code whose check character was left off is never taken for a shorter one. */
START_TEST(check_left_off)
{
    for (uint32_t number = 1; number <= 9999; number++) {
        char code[COT_CODE_TEXT], out[COT_CODE_TEXT];
        cot_code_make("B", number, code);
        sure(cot_code_read(code, strlen(code), out) == COT_CODE_GOOD && strcmp(out, code) == 0);
        sure(cot_code_read(code, 6, out) == COT_CODE_SHAPE);
        sure(cot_code_read(code, 7, out) == COT_CODE_SHAPE);
    }
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
    Suite *s = suite_create("core/code");
    add(s, "published", published_example);
    add(s, "check", wrong_characters_and_swaps);
    add(s, "tags", tags);
    add(s, "typed", typed);
    add(s, "check_left_off", check_left_off);
    return s;
}
