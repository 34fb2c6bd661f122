/* The plan from the order book, as people ask for it, accept it and change it. */
#include "made.h"

#include <stdlib.h>
#include <string.h>

static void must(const char *line)
{
    cot_fixture_must(&f, line);
}

/* The mark that the plan was shown with. */
static void mark_of(char out[static 6])
{
    const char *at = strstr(f.out, "--accept ");
    ck_assert_msg(at != NULL, "said: %s", f.out);
    memcpy(out, at + 9, 5);
    out[5] = '\0';
}

static void accept(void)
{
    char mark[6], line[40];
    must("plan");
    mark_of(mark);
    snprintf(line, sizeof line, "plan --accept %s", mark);
    must(line);
}

/* Tomatoes for Weir Hill are not sown in whole trays yet; two trays were ordered, three rows stand. */
START_TEST(shown_and_accepted)
{
    must("promise --all");
    must("order \"Alder Ford\" \"Red Harbour\" --plants 600 --format \"128 square\" --on 2027-06-14");
    must("plan");
    says("Red Harbour 128 square");
    says("lines are planned for in full");
    says("Nothing is recorded by this. `cotyl plan --accept");
    must("list planned");
    says("There are no planned sowings");
    accept();
    says("Planned:");
    must("list planned");
    says("RH-2601");
    accept();
    says("Everything is planned so already: nothing was recorded.");
}
END_TEST

START_TEST(another_plan_than_was_shown)
{
    char mark[6], line[40];
    must("order \"Alder Ford\" \"Red Harbour\" --plants 600 --format \"128 square\" --on 2027-06-14");
    must("plan");
    mark_of(mark);
    must("order \"Alder Ford\" \"Red Harbour\" --plants 900 --format \"128 square\" --on 2027-06-21");
    snprintf(line, sizeof line, "plan --accept %s", mark);
    ck_assert_int_eq(cot_fixture_run(&f, line), cot_err_row(COT_CONFLICT)->exit_code);
    warns("the plan is not the one that was shown");
    says("Red Harbour");
    must("list planned");
    says("There are no planned sowings");
}
END_TEST

START_TEST(for_programs)
{
    must("order \"Alder Ford\" \"Red Harbour\" --plants 600 --format \"128 square\" --on 2027-06-14");
    must("plan --csv");
    says("sow_day,week,change,planned,was_day,crop,variety,lot,format,trays,");
    says(",new,,,Lettuce,Red Harbour,RH-2601,128 square,");
    must("plan --json");
    says("\"variety\":\"Red Harbour\",\"lot\":\"RH-2601\"");
    must("promise --all");
    must("plan --on 2027-03-08 --promised-only --from-scratch");
    says("`cotyl plan --on 2027-03-08 --promised-only --from-scratch --accept");
    must("plan --lines --csv");
    says("code,farm,variety,format,date,need,planned,why");
    must("plan --each-alone");
    says("lines are planned for in full");
}
END_TEST

/* docs/reports.md names every column of the lists, in their order. */
START_TEST(columns_are_documented)
{
    static const char *const list[] = {"plan --csv",
                                       "plan --lines --csv",
                                       "today --csv",
                                       "needs --csv",
                                       "needs --weeks --csv",
                                       "shopping --csv",
                                       "plates --csv",
                                       "plates RH-2601 \"128 square\" --csv",
                                       "trace RH-2601 --csv",
                                       "benches --csv",
                                       "benches \"bench 1\" --csv"};
    static char page[200000];
    char path[1024];
    snprintf(path, sizeof path, "%s/../docs/reports.md", COT_TESTS_DIR);
    FILE *file = fopen(path, "r");
    ck_assert_ptr_nonnull(file);
    page[fread(page, 1, sizeof page - 1, file)] = '\0';
    fclose(file);
    const char *from = strstr(page, "## Lists of the plan and the day");
    ck_assert_ptr_nonnull(from);
    must("add place \"bench 1\" --sort bench --spots 40");
    for (size_t i = 0; i < sizeof list / sizeof list[0]; i++) {
        const char *at = from;
        char name[60];
        must(list[i]);
        f.out[strcspn(f.out, "\r\n")] = '\0';
        for (char *word = strtok(f.out, ","); word; word = strtok(NULL, ",")) {
            snprintf(name, sizeof name, "`%s`", word);
            ck_assert_msg(strstr(at, name) != NULL, "%s: docs/reports.md does not name %s", list[i], name);
        }
    }
}
END_TEST

static const struct {
    const char *line, *warning;
    enum cot_err err;
} refused[] = {
    {"plan --each-alone --accept BCDFG", "--each-alone is for comparing", COT_USAGE},
    {"plan more", "", COT_USAGE},
    {"plan --on yesterday", "", COT_INVALID},
    {"plan --csv --json", "", COT_USAGE},
};

START_TEST(misused)
{
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
        int code = cot_fixture_run(&f, refused[i].line);
        ck_assert_msg(code == cot_err_row(refused[i].err)->exit_code, "%s: exit %d: %s", refused[i].line, code, f.err);
        warns(refused[i].warning);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/plan");
    TCase *c = tcase_create("plan");
    tcase_set_timeout(c, 60);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, shown_and_accepted);
    tcase_add_test(c, another_plan_than_was_shown);
    tcase_add_test(c, for_programs);
    tcase_add_test(c, misused);
    tcase_add_test(c, columns_are_documented);
    suite_add_tcase(s, c);
    return s;
}
