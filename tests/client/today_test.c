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
    tcase_add_test(c, a_week);
    suite_add_tcase(s, c);
    return s;
}
