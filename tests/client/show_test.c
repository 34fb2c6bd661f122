/* list, show, history, orders, fill and handovers as people run them, on a laptop without a server. */
#include "main.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "client.h"
#include "cotyledger/wire/csv.h"
#include "fixture.h"

static struct cot_fixture f;

static void start(void)
{
    cot_fixture_start(&f, COT_PART_MANAGER);
    cot_fixture_play(&f, cot_fixture_house);
    cot_fixture_must(&f, "count A-0003-7 3:128/118/7/3/2 5:128/121/5/2/0");
    cot_fixture_must(&f, "order \"Alder Ford\" \"Pale Sluice\" --plants 90 --on 2027-04-06");
    cot_fixture_must(&f, "withdraw A-0006-1 --why \"sown at home\"");
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 128 --trays 1 --owed 5");
    cot_fixture_must(&f, "empties \"Alder Ford\" --trays 2");
    cot_fixture_must(&f, "empties \"Weir Hill\" --trays 7");
    cot_fixture_set_clock(&f, "2027-03-01T08:10:00Z");
    cot_fixture_must(&f,
                     "note \"heating off from 2 to 5, 4 degrees on bench 3, the vents of the north side stuck open, "
                     "looked at the seedlings at 6: nothing to see yet\"");
    cot_fixture_set_clock(&f, "2027-03-01T08:20:00Z");
    cot_fixture_must(&f, "note \"roots round by Thursday\" --about A-0003-7");
    cot_fixture_set_clock(&f, "2027-03-01T08:30:00Z");
    cot_fixture_must(&f, "note \"ring first\" --about A-0001-B");
    cot_fixture_set_clock(&f, COT_FIXTURE_NOW);
}

static void end(void)
{
    cot_fixture_end(&f);
}

static const char *const for_eyes[] = {
    "list farms",
    "list crops",
    "list varieties",
    "list formats",
    "list plates",
    "list lots",
    "list batches",
    "list orders",
    "list lines",
    "list notes",
    "list notes --on 2027-02-01",
    "fill --short",
    "what-if Alder Red --plants 9000 --on 2027-04-06",
    "what-if A-0001-B --withdrawn",
    "list farm",
    "list batch --on 2027-03-20",
    "orders",
    "orders --waiting",
    "orders \"Weir Hill\"",
    "show A-0003-7",
    "show A-0004-5",
    "show A-0001-B",
    "show A-0006-1",
    "show TR-2601",
    "show \"Red Harbour\"",
    "show Lettuce",
    "show \"Alder Ford\"",
    "show format 128",
    "show plate 128",
    "history A-0003-7",
    "history A-0001-B",
    "history lot RH-2601",
    "fill",
    "fill --farm Weir --on 2027-04-01",
    "handovers",
    "handovers --on 2027-01-01",
};

/* Everything for eyes fits 80 columns and has no control characters, no blanks at line ends, no colour. */
START_TEST(fits_a_page)
{
    start();
    for (size_t i = 0; i < sizeof for_eyes / sizeof for_eyes[0]; i++) {
        cot_fixture_must(&f, for_eyes[i]);
        ck_assert_msg(f.out[0] != '\0', "%s says nothing", for_eyes[i]);
        for (const char *p = f.out; *p; p += strcspn(p, "\n") + 1) {
            size_t n = strcspn(p, "\n");
            ck_assert_msg(cot_text_columns(p, n) <= 80, "%s: %.*s", for_eyes[i], (int)n, p);
            ck_assert_msg(n == 0 || p[n - 1] != ' ', "%s: %.*s|", for_eyes[i], (int)n, p);
            for (size_t k = 0; k < n; k++) ck_assert_msg((unsigned char)p[k] >= ' ' && p[k] != 0x7f, "%s", for_eyes[i]);
        }
    }
    end();
}
END_TEST

/* Every list and page has its JSON, and every list its CSV. */
START_TEST(speaks_to_programs)
{
    char line[200];
    start();
    for (size_t i = 0; i < sizeof for_eyes / sizeof for_eyes[0]; i++) {
        snprintf(line, sizeof line, "--json %s", for_eyes[i]);
        cot_fixture_must(&f, line);
        json_error_t error;
        json_t *root = json_loads(f.out, JSON_REJECT_DUPLICATES, &error);
        ck_assert_msg(root != NULL, "%s: %s in %s", line, error.text, f.out);
        json_decref(root);
        if (!strncmp(for_eyes[i], "show", 4) || !strncmp(for_eyes[i], "history", 7) ||
            !strncmp(for_eyes[i], "what-if", 7))
            continue;
        snprintf(line, sizeof line, "%s --csv", for_eyes[i]);
        cot_fixture_must(&f, line);
        struct cot_csv *c = NULL;
        ck_assert_int_eq(cot_csv_open(f.out, strlen(f.out), &c, NULL), COT_OK);
        for (size_t r = 1; r < cot_csv_count(c); r++)
            ck_assert_uint_eq(cot_csv_record(c, r)->count, cot_csv_record(c, 0)->count);
        cot_csv_free(c);
    }
    end();
}
END_TEST

static const struct {
    const char *line, *says;
} answers[] = {
    {"list lots", "TR-2601   Pale Sluice            92 % (label)         treated"},
    {"list batches", "A-0003-7  Red Harbour  6 x 128 square"},
    {"list batches", "A-0005-3  Red Harbour  30 x 128"},
    {"list batches", " left\n"},
    {"list batches --csv", "handed_over,left,held"},
    {"list notes", "2027-03-01 Wren, not sent yet\n    heating off from 2 to 5, 4 degrees on bench 3, the vents of the "
                   "north side\n    stuck open, looked at the seedlings at 6: nothing to see yet\n"
                   "2027-03-01 Wren, about A-0003-7, not sent yet\n    roots round by Thursday\n"
                   "2027-03-01 Wren, about A-0001-B, Alder Ford, not sent yet\n    ring first\n"},
    {"list notes --csv", "2027-03-01,Alder Ford,A-0001-B,Wren,A,"},
    {"list notes --on 2027-02-28", "There are no notes yet."},
    {"show \"Alder Ford\"", "owed for hand-overs         5 trays\n  brought back                2 trays\n"
                            "  still owed                  3 trays"},
    {"show \"Weir Hill\"", "brought back beyond owed    7 trays"},
    {"--json show \"Alder Ford\"", "\"empties\":{\"on\":\"2027-03-01\",\"owed\":5,\"back\":2,\"still_owed\":3}"},
    {"list batches --on 2027-02-14", "There are no batches yet."},
    {"orders --waiting", "A-0002-9  Weir Hill  Kiln Red  128 square  2027-04-12     256  waiting"},
    {"orders", "A-0006-1  Alder Ford  Pale Sluice  any         2027-04-06      90  withdrawn"},
    {"show A-0003-7", "looked at                   256 of 768 cells, in 2 of 6 trays"},
    {"show A-0003-7", "seen                        239 usable, 12 blanks, 5 culls, 2 doubles"},
    {"show A-0003-7", "handed over                 128 plants"},
    {"show A-0003-7", "372 plants for A-0001-B, Alder Ford, 2027-04-05"},
    {"show A-0004-5", "counted                     not yet"},
    {"show A-0001-B", "chance to be full           over 99 %"},
    {"show A-0001-B", "372 plants from A-0003-7"},
    {"show A-0006-1", "A-0006-1, order line (withdrawn or taken back)"},
    {"show TR-2601", "Caution: treated seed: gloves"},
    {"show format 128", "cell volume                 25.1 mL"},
    {"show \"a 3 7\"", "A-0003-7, batch"}, /* a code as it comes to mind */
    {"history A-0001-B", "promise, by Wren on A"},
    {"history A-0006-1", "withdrawal, by Wren on A"},
    {"history A-0006-1", "why: sown at home"},
    {"fill", "A-0001-B        Red Harbour, 128 square         2027-04-05  2027-W14  covered"},
    {"fill", "Fill report of Three Sluices"},
    {"handovers", "Red Harbour, 128 square                 1      128        0       0      5"},
    {"handovers --on 2027-01-01", "None."},
};

START_TEST(says)
{
    start();
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++) {
        cot_fixture_must(&f, answers[i].line);
        ck_assert_msg(strstr(f.out, answers[i].says) != NULL, "%s: %s", answers[i].line, f.out);
    }
    end();
}
END_TEST

/* Covered lines go, in each form; what is left of the report stays as it was. */
START_TEST(only_what_is_short)
{
    start();
    cot_fixture_must(&f, "fill");
    ck_assert_ptr_nonnull(strstr(f.out, "\nA-0001-B "));
    ck_assert_ptr_nonnull(strstr(f.out, "\nA-0002-9 "));
    cot_fixture_must(&f, "fill --short");
    ck_assert_ptr_null(strstr(f.out, "\nA-0001-B "));
    ck_assert_ptr_nonnull(strstr(f.out, "\nA-0002-9 "));
    ck_assert_ptr_nonnull(strstr(f.out, "only lines that are short or in doubt are shown"));
    ck_assert_ptr_nonnull(strstr(f.out, "The one line is covered."));
    cot_fixture_must(&f, "fill --short --farm \"Alder Ford\"");
    ck_assert_ptr_null(strstr(f.out, "Verdict")); /* no table without a line in it */
    cot_fixture_must(&f, "fill --short --csv");
    ck_assert_ptr_null(strstr(f.out, ",A-0001-B,"));
    ck_assert_ptr_nonnull(strstr(f.out, ",A-0002-9,"));
    cot_fixture_must(&f, "fill --short --json");
    json_t *root = json_loads(f.out, JSON_REJECT_DUPLICATES, NULL), *farms = json_object_get(root, "farms");
    ck_assert_uint_eq(json_array_size(farms), 2);
    ck_assert_uint_eq(json_array_size(json_object_get(json_array_get(farms, 0), "lines")), 0);
    ck_assert_int_eq(json_integer_value(json_object_get(json_array_get(farms, 0), "covered")), 1);
    ck_assert_uint_eq(json_array_size(json_object_get(json_array_get(farms, 1), "lines")), 1);
    json_decref(root);
    end();
}
END_TEST

static const struct {
    const char *line;
    enum cot_err err;
    const char *says;
} refusals[] = {
    {"list things", COT_USAGE, "one of: farms, crops, varieties"},
    {"list things", COT_USAGE, "batches, notes"},
    {"list batches --csv --json", COT_USAGE, "one of them"},
    {"list batches --on 1.3.2027", COT_INVALID, "write it as 2027-03-29"},
    {"show 128", COT_AMBIGUOUS, "names the format \"128 square\" and the plate \"128 one-hole\""},
    {"show nothing", COT_NOT_FOUND, "there is nothing called"},
    {"show A-0003-8", COT_INVALID, "is mistyped"},
    {"show boat Lettuce", COT_USAGE, "is nothing that can be listed or shown"},
    {"orders \"Nobody's Farm\"", COT_NOT_FOUND, "Nobody's Farm"},
    {"fill --farm \"Nobody's Farm\"", COT_NOT_FOUND, "Nobody's Farm"},
};

START_TEST(refuses)
{
    start();
    for (size_t i = 0; i < sizeof refusals / sizeof refusals[0]; i++) {
        int rc = cot_fixture_run(&f, refusals[i].line);
        ck_assert_msg(rc == cot_err_row(refusals[i].err)->exit_code, "%s: %d %s", refusals[i].line, rc, f.err);
        ck_assert_msg(strstr(f.err, refusals[i].says) != NULL, "%s: %s", refusals[i].line, f.err);
    }
    end();
}
END_TEST

START_TEST(a_code_that_nobody_has)
{
    char code[COT_CODE_TEXT], line[40];
    start();
    cot_code_make("A", 99, code);
    snprintf(line, sizeof line, "show %s", code);
    ck_assert_int_eq(cot_fixture_run(&f, line), cot_err_row(COT_NOT_FOUND)->exit_code);
    ck_assert_ptr_nonnull(strstr(f.err, code));
    end();
}
END_TEST

/* A buyer without a signal and without a statement is told that it is the net; the own orders are there all the same.
 */
START_TEST(buyers_need_a_statement)
{
    cot_fixture_start(&f, COT_PART_BUYER);
    int rc = cot_fixture_run(&f, "fill");
    ck_assert_int_eq(rc, cot_err_row(COT_NETWORK)->exit_code);
    ck_assert_int_eq(cot_fixture_run(&f, "fill --short"), cot_err_row(COT_USAGE)->exit_code);
    cot_fixture_must(&f, "handovers");
    cot_fixture_must(&f, "orders");
    cot_fixture_end(&f);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/show");
    TCase *t = tcase_create("commands");
    tcase_set_timeout(t, 300);
    tcase_add_test(t, fits_a_page);
    tcase_add_test(t, speaks_to_programs);
    tcase_add_test(t, says);
    tcase_add_test(t, only_what_is_short);
    tcase_add_test(t, refuses);
    tcase_add_test(t, a_code_that_nobody_has);
    tcase_add_test(t, buyers_need_a_statement);
    suite_add_tcase(s, t);
    return s;
}
