/* Stand counts line after line: typed at a terminal, scanned, from a file; each durable, each taken back. */
#include "made.h"

#include <stdio.h>
#include <string.h>

static int64_t entries(void)
{
    struct cot_id chain;
    int64_t n;
    cot_fixture_head(&f, &n, &chain);
    return n;
}

static const char *file_of(const char *text)
{
    static char path[120];
    snprintf(path, sizeof path, "%s/lines", f.root);
    FILE *out = fopen(path, "w");
    ck_assert_ptr_nonnull(out);
    fputs(text, out);
    fclose(out);
    return path;
}

static int tally(const char *text, const char *options)
{
    char line[300];
    snprintf(line, sizeof line, "tally %s%s", file_of(text), options);
    return cot_fixture_run(&f, line);
}

START_TEST(from_a_file)
{
    int64_t before = entries();
    ck_assert_int_eq(tally("A-0003-7 2 8 3\n3, 11; 2\t1 # the wet end\n\na3-7\n4 0\n", ""), 0);
    says("A-0003-7 tray 2: 8 blanks, 3 doubles 1 of 6 trays: likely ");
    says("A-0003-7 tray 3: 11 blanks, 2 doubles, 1 cull 2 of 6 trays: ");
    says("A-0003-7: Red Harbour 6 trays of 128 square");
    says("A-0003-7 tray 4: 0 blanks 3 of 6 trays: ");
    says("3 counts taken.");
    ck_assert_int_eq(entries(), before + 3);
    entry_has("\"counts\":[{\"tray\":4,\"looked\":128,\"blanks\":0}]");
    cot_fixture_must(&f, "show A-0003-7");
    says("in 3 of 6 trays");
}
END_TEST

/* What cannot be taken is named with its line, the rest stands, and the exit code tells. */
START_TEST(bad_lines)
{
    static const struct {
        const char *line, *words;
    } bad[] = {{"3 8 2", "line 1: of which batch? Begin with the code on its tag"},
               {"A-0003-8 3 8 2", "check character"},
               {"A-0001-B 3 8", "is the code of an order line"},
               {"A-0003-7 9 8 2", "line 1: there is no tray 9: A-0003-7 has 6 trays"},
               {"A-0003-7 0 8 2", "no tray number"},
               {"A-0003-7 3 129", "129 cells"},
               {"A-0003-7 3 eight", "blanks: \"eight\" is no number of cells"},
               {"A-0003-7 3 8 -2", "doubles: \"-2\" is no number of cells"},
               {"A-0003-7 3", "tray and blanks are wanted"},
               {"A-0003-7 3 8 2 1 4", "tray and blanks are wanted"},
               {"-", "nothing was taken yet"}};
    char text[600];
    int64_t before = entries();
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        snprintf(text, sizeof text, "%s\n", bad[i].line);
        ck_assert_int_eq(tally(text, ""), cot_err_row(COT_INVALID)->exit_code);
        warns(bad[i].words);
        says("0 counts taken.");
        warns("1 line not taken, see above");
    }
    ck_assert_int_eq(entries(), before);
    memset(text, '7', 400);
    snprintf(text + 400, 40, "\nA-0003-7 2 8\n");
    ck_assert_int_eq(tally(text, ""), cot_err_row(COT_INVALID)->exit_code);
    warns("line 1: the line is too long for a count");
    says("1 count taken.");
    ck_assert_int_eq(entries(), before + 1);
    ck_assert_int_eq(cot_fixture_run(&f, "tally /no/such/file"), cot_err_row(COT_NOT_FOUND)->exit_code);
}
END_TEST

START_TEST(taken_back)
{
    int64_t before = entries();
    ck_assert_int_eq(tally("A-0003-7 2 8\n3 90\n-\n3 9\n-\n-\n.\n4 1\n", ""), 0);
    says("taken back: A-0003-7 tray 3 1 of 6 trays: ");
    says("taken back: A-0003-7 tray 2");
    says("0 counts taken.");
    ck_assert_int_eq(entries(), before + 3 + 3);
    cot_fixture_must(&f, "show A-0003-7");
    says("counted not yet");
}
END_TEST

START_TEST(for_programs)
{
    ck_assert_int_eq(tally("A-0003-7 2 8\n9 1\n-\n", " --json"), cot_err_row(COT_INVALID)->exit_code);
    says("{\"line\":1,\"recorded\":\"");
    says("\"batch\":\"A-0003-7\",\"tray\":2,\"trays_counted\":1,\"trays\":6,\"likely\":");
    says("{\"line\":2,\"refused\":\"there is no tray 9: A-0003-7 has 6 trays\"}");
    says("{\"line\":3,\"taken_back\":\"");
}
END_TEST

/* At a real terminal: what is typed is seen, Backspace mends, - takes back and . stops without Return, and what is
 * refused rings the bell and is typed again. No line is wider than a narrow window. */
START_TEST(at_a_terminal)
{
    int64_t before = entries();
    cot_fixture_keys(&f, "tally", "A-0003-7 2 88\b 3\r9 1\r3 5 1\r-3 6 1\r.");
    says("A-0003-7 tray 2: 8 blanks, 3 doubles");
    says("\aNOT TAKEN: there is no tray 9: A-0003-7 has 6 trays");
    says("A-0003-7 tray 3: 5 blanks, 1 double");
    says("taken back: A-0003-7 tray 3");
    says("A-0003-7 tray 3: 6 blanks, 1 double");
    says("2 counts taken.");
    ck_assert_int_eq(entries(), before + 4);
    for (const char *p = f.out; *p; p++) {
        size_t wide = strcspn(p, "\r\n");
        if (!strstr(f.out, "NOT TAKEN") || strncmp(p, "\aNOT", 4) != 0)
            ck_assert_msg(wide <= 48, "%zu columns: %.*s", wide, (int)wide, p);
        p += wide;
        if (!*p) break;
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/tally");
    TCase *c = tcase_create("tally");
    tcase_set_timeout(c, 60);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, from_a_file);
    tcase_add_test(c, bad_lines);
    tcase_add_test(c, taken_back);
    tcase_add_test(c, for_programs);
    tcase_add_test(c, at_a_terminal);
    suite_add_tcase(s, c);
    return s;
}
