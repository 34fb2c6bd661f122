/* The list on the wall, and saying that a job is done. */
#include "made.h"

#include <stdlib.h>
#include <string.h>

static void must(const char *line)
{
    cot_fixture_must(&f, line);
}

static int fails(const char *line)
{
    return cot_fixture_run(&f, line);
}

/* The mark of the first row for eyes that has `what` in it. */
static void mark_of(const char *what, char out[static 6])
{
    const char *at = strstr(f.out, what);
    ck_assert_msg(at != NULL, "no %s: %s", what, f.out);
    while (at > f.out && at[-1] != '\n') at--;
    memcpy(out, at, 5);
    out[5] = '\0';
}

START_TEST(planned_listed_done)
{
    char mark[6], line[80];
    must("add planned --lot RH-2601 --format \"128 square\" --trays 4 --plate \"128 one-hole\" --sow-day 2027-03-01 "
         "--bench 3");
    must("today");
    says("Monday, 2027-03-01 (W09)");
    says("fill 4 x 128 square with mix, pressed");
    says("put on plate 128 one-hole");
    says("sow 4 x 128 square Red Harbour, RH-2601");
    says("Legionella");
    mark_of("Red Harbour, RH-2601", mark);
    snprintf(line, sizeof line, "done %s --trays 5", mark);
    must(line);
    says("5 trays of 128 square, Red Harbour");
    ck_assert_int_eq(fails(line), cot_err_row(COT_NOT_FOUND)->exit_code);
    warns("nothing was recorded");
    must("list planned");
    says("sown, 1 more");
    must("today --on 2027-02-19");
    says("Late, since the day named:");
    says("move out (02-17) 6 x 128 square Red Harbour A-0003-7 3");
}
END_TEST

/* The fixture's batches were sown on 2027-02-15, the count is due a fortnight later. */
START_TEST(a_count_has_to_be_looked_at)
{
    char mark[6], line[40];
    must("today");
    says("count 3 trays trays");
    mark_of("  trays ", mark);
    snprintf(line, sizeof line, "done %s", mark);
    ck_assert_int_eq(fails(line), cot_err_row(COT_INVALID)->exit_code);
    warns("a count has figures that only you can see");
    warns("cotyl count A-0003-7");
}
END_TEST

/* Says that the job is done, and that it is not on the list any more: saying it again records nothing. */
static void done_once(const char *what, const char *list, const char *options, const char *answer)
{
    char mark[6], line[120];
    must(list);
    mark_of(what, mark);
    snprintf(line, sizeof line, "done %s%s", mark, options);
    must(line);
    says(answer);
    ck_assert_int_eq(fails(line), cot_err_row(COT_NOT_FOUND)->exit_code);
    warns("nothing was recorded");
}

/* Out of the chamber, blanks filled, doubles thinned, pulled: each by its mark, each once. A-0003-7 is 6 trays of
 * lettuce sown on 2027-02-15, two days in the chamber. */
START_TEST(each_sort_of_job)
{
    done_once("move out", "today --on 2027-02-17", " --on 2027-02-17",
              "A-0003-7: 6 trays on bench 3 from 2027-02-17 (W07).");
    must("count A-0003-7 2:128/110/18/0/40 --day 2027-02-28");
    done_once("  patch", "today", "", "A-0003-7: 18 plants set into blanks on 2027-03-01");
    done_once("  thin", "today", " --which 2", "A-0003-7: 22 plants taken out of doubles on 2027-03-01");
    cot_fixture_set_clock(&f, "2027-04-05T08:00:00Z");
    done_once("  pull", "today", "", "A-0003-7 handed over to Alder Ford");
}
END_TEST

/* At a terminal one key is enough: the first sowing is done, the second is not, and q leaves the rest. */
START_TEST(a_key_a_job)
{
    must("add planned --lot RH-2601 --format \"128 square\" --trays 4 --sow-day 2027-03-01");
    must("add planned --lot RH-2601 --format \"128 square\" --trays 5 --sow-day 2027-03-01");
    must("add planned --lot RH-2601 --format \"128 square\" --trays 6 --sow-day 2027-03-01");
    cot_fixture_keys(&f, "done", "ynq");
    says("sow 4 x 128 square Red Harbour, RH-2601");
    says("done? y, n, q:");
    says("4 trays of 128 square, Red Harbour");
    must("list planned --csv");
    says(",done,4,");
    says(",to_come,0,");
    must("list batch --csv");
    size_t batches = 0;
    for (const char *p = f.out; (p = strchr(p, '\n')) != NULL; p++) batches++;
    ck_assert_uint_eq(batches, 1 + 4); /* the heading, three of the house, one sown now */
    cot_fixture_keys(&f, "done", "nnnnnnnnnn");
    must("list batch --csv");
    for (const char *p = f.out; (p = strchr(p, '\n')) != NULL; p++) batches--;
    ck_assert_uint_eq(batches, 0);
}
END_TEST

START_TEST(not_before_its_day)
{
    char mark[6], line[60];
    must("add planned --lot RH-2601 --format \"128 square\" --trays 4 --sow-day 2027-03-08");
    must("today --on 2027-03-08");
    mark_of("Red Harbour, RH-2601", mark);
    snprintf(line, sizeof line, "done %s --on 2027-03-08", mark);
    ck_assert_int_eq(fails(line), cot_err_row(COT_INVALID)->exit_code);
    warns("2027-03-08 (W10) is yet to come: nothing was recorded");
    must("list planned");
    says("to come");
}
END_TEST

START_TEST(a_week)
{
    must("add planned --lot RH-2601 --format \"128 square\" --trays 4 --sow-day 2027-03-17");
    must("week 2027-W11");
    says("Wednesday, 2027-03-17 (W11)");
    says("by hand");
    must("week W11");
    says("Wednesday, 2027-03-17 (W11)");
    must("week 2027-W11 --csv");
    says("mark,job,due,late_days,code,line,farm,variety,lot,format,plate,trays,rows,plants,per_cell,which,bench,"
         "treated");
    ck_assert_int_eq(fails("week 2027-W54"), cot_err_row(COT_INVALID)->exit_code);
    warns("is no week");
    ck_assert_int_eq(fails("done"), cot_err_row(COT_USAGE)->exit_code);
    ck_assert_int_eq(fails("done QQQQQ"), cot_err_row(COT_NOT_FOUND)->exit_code);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/today");
    TCase *c = tcase_create("today");
    tcase_set_timeout(c, 60);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, planned_listed_done);
    tcase_add_test(c, a_count_has_to_be_looked_at);
    tcase_add_test(c, each_sort_of_job);
    tcase_add_test(c, a_key_a_job);
    tcase_add_test(c, not_before_its_day);
    tcase_add_test(c, a_week);
    suite_add_tcase(s, c);
    return s;
}
