/* Order lines: what is recorded, what is said, and what becomes of them. */
#include "made.h"

#include <stdlib.h>
#include <string.h>

START_TEST(one_line)
{
    cot_fixture_must(
        &f, "order alder red --plants 1,200 --on 2027-05-03 --format any --early 2 --least 900 --untreated --ref B7");
    says("A-0006-1: 1200 plants of Red Harbour in any tray format for Alder Ford, to collect 2027-05-03 (W18).");
    says("It waits for the house's promise.");
    entry_has("\"plants\":1200");
    entry_has("\"untreated\":true");
    entry_has("\"early\":2");
    entry_has("\"ref\":\"B7\"");
}
END_TEST

START_TEST(substitutes_repeat_and_list)
{
    cot_fixture_must(&f, "order alder red --plants 100 --on 2027-05-03 --sub \"Pale Sluice\" --sub=\"Kiln Red\"");
    char *twice = cot_fixture_last_entry(&f);
    cot_fixture_must(&f, "order alder red --plants 100 --on 2027-05-03 --sub \"Pale Sluice,Kiln Red\"");
    char *once = cot_fixture_last_entry(&f);
    const char *a = strstr(twice, "\"subs\":["), *b = strstr(once, "\"subs\":[");
    ck_assert(a && b);
    ck_assert_int_eq(strncmp(a, b, strlen("\"subs\":[") + 2 * 45), 0);
    free(twice);
    free(once);
}
END_TEST

START_TEST(every_week)
{
    int64_t before, after;
    struct cot_id chain;
    cot_fixture_head(&f, &before, &chain);
    cot_fixture_must(&f,
                     "order alder red --plants 400 --every week --from 2027-W51 --to 2028-W02 --weekday Thu --json");
    cot_fixture_head(&f, &after, &chain);
    ck_assert_int_eq(after - before, 4);
    says("\"code\":\"A-0006-1\"");
    says("\"code\":\"A-0009-W\"");
    entry_has("\"date\":\"2028-01-13\"");
    cot_fixture_must(&f, "order alder red --plants 400 --every week --from 2027-W14 --to 2027-W16");
    says("3 order lines, A-0010-9 to A-0012-5, each 400 plants of Red Harbour in any tray format for Alder Ford, to "
         "collect every week "
         "from 2027-04-05 (W14) to 2027-04-19 (W16).");
}
END_TEST

START_TEST(past_day_is_recorded_with_a_warning)
{
    cot_fixture_must(&f, "order alder red --plants 100 --on 2027-02-01");
    warns("2027-02-01 (W05) is past");
}
END_TEST

START_TEST(promise_one)
{
    cot_fixture_must(&f, "promise A-0002-9");
    says("A-0002-9: 256 plants promised in all");
    entry_has("\"plants\":256");
    cot_fixture_must(&f, "promise a2-9 --plants 300 --date 2027-04-30");
    warns("asks for 256 plants only");
    warns("2027-04-30 (W17) is not a day the farm said will do");
}
END_TEST

START_TEST(a_promise_taken_back)
{
    cot_fixture_must(&f, "promise A-0001-B --plants 0");
    says("A-0001-B: 0 plants promised in all");
    cot_fixture_warns(&f, "no place in the queue any more");
    cot_fixture_must(&f, "fill --csv");
    says("A-0001-B");
    ck_assert_ptr_null(strstr(f.out, ",covered,"));
}
END_TEST

START_TEST(promise_all)
{
    cot_fixture_must(&f, "order alder red --plants 70 --on 2027-05-03");
    cot_fixture_must(&f, "promise --all --farm \"Weir Hill\"");
    says("Promised 1 line in full, 256 plants:");
    cot_fixture_must(&f, "promise --all");
    says("Promised 1 line in full, 70 plants:");
    cot_fixture_must(&f, "promise --all");
    says("No line waits for a promise.");
    cot_fixture_must(&f, "promise --all --json");
    says("{\"recorded\":[]}");
}
END_TEST

START_TEST(declined_lines_are_not_promised_by_all)
{
    cot_fixture_must(&f, "decline A-0002-9 --why \"no bench\"");
    says("A-0002-9: declined what is not promised");
    cot_fixture_must(&f, "promise --all");
    says("No line waits for a promise.");
}
END_TEST

START_TEST(withdrawn_lines_stay_so)
{
    cot_fixture_must(&f, "withdraw A-0002-9 --why \"field under water\"");
    says("A-0002-9: withdrawn: 2 trays of Kiln Red in 128 square for Weir Hill, to collect 2027-04-12 (W15): field "
         "under water.");
    ck_assert_int_eq(cot_fixture_run(&f, "promise A-0002-9"), cot_err_row(COT_INVALID)->exit_code);
    warns("the line was withdrawn");
    ck_assert_int_eq(cot_fixture_run(&f, "change line A-0002-9 --trays 3"), cot_err_row(COT_INVALID)->exit_code);
}
END_TEST

START_TEST(change_carries_only_what_changes)
{
    cot_fixture_must(&f, "change line A-0001-B --plants 650 --late 3");
    says("Changed order line A-0001-B: 500 plants -> 650 plants.");
    entry_has("\"body\":{\"plants\":650}");
}
END_TEST

START_TEST(trays_take_the_place_of_plants)
{
    cot_fixture_must(&f, "change line A-0001-B --trays 5");
    entry_has("\"plants\":null");
    entry_has("\"trays\":5");
    cot_fixture_must(&f, "promise A-0001-B");
    says("640 plants promised");
}
END_TEST

static void buyer(void)
{
    cot_fixture_start(&f, COT_PART_BUYER);
}

START_TEST(buyers_order_for_their_farm)
{
    cot_fixture_must(&f, "order \"Red Harbour\" --plants 300 --on 2027-05-03");
    says("A-0001-B: 300 plants of Red Harbour in any tray format, to collect 2027-05-03 (W18).");
    char farm[COT_ID_TEXT], member[COT_ID_TEXT + 16];
    cot_id_text(&f.farm, farm);
    snprintf(member, sizeof member, "\"farm\":\"%s\"", farm);
    entry_has(member);
    cot_fixture_must(&f, "change line A-0001-B --plants 350");
    cot_fixture_must(&f, "withdraw A-0001-B");
}
END_TEST

/* After the closing day the house has the last word. */
START_TEST(late_changes_are_requests)
{
    cot_fixture_must(&f, "order \"Red Harbour\" --plants 300 --on 2027-05-03 --closing 2027-03-01");
    cot_fixture_set_clock(&f, "2027-03-05T08:00:00Z");
    cot_fixture_must(&f, "change line A-0001-B --plants 350");
    warns("kept as a request");
    warns("It counts when a manager has said yes.");
}
END_TEST

START_TEST(buyers_may_not_do_the_houses_work)
{
    static const char *const lines[] = {"add farm \"Weir Hill\"", "promise A-0001-B", "decline A-0001-B",
                                        "add plate p --cells 128 --holes 1", "empties \"Alder Ford\" --trays 3"};
    cot_fixture_must(&f, "order \"Red Harbour\" --plants 300 --on 2027-05-03");
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        ck_assert_msg(cot_fixture_run(&f, lines[i]) == cot_err_row(COT_NOT_ALLOWED)->exit_code, "%s: %s", lines[i],
                      f.err);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("orders");
    TCase *c = tcase_create("house");
    tcase_set_timeout(c, 120);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, one_line);
    tcase_add_test(c, substitutes_repeat_and_list);
    tcase_add_test(c, every_week);
    tcase_add_test(c, past_day_is_recorded_with_a_warning);
    tcase_add_test(c, promise_one);
    tcase_add_test(c, a_promise_taken_back);
    tcase_add_test(c, promise_all);
    tcase_add_test(c, declined_lines_are_not_promised_by_all);
    tcase_add_test(c, withdrawn_lines_stay_so);
    tcase_add_test(c, change_carries_only_what_changes);
    tcase_add_test(c, trays_take_the_place_of_plants);
    suite_add_tcase(s, c);
    TCase *b = tcase_create("buyer");
    tcase_add_checked_fixture(b, buyer, leave);
    tcase_add_test(b, buyers_order_for_their_farm);
    tcase_add_test(b, late_changes_are_requests);
    tcase_add_test(b, buyers_may_not_do_the_houses_work);
    suite_add_tcase(s, b);
    return s;
}
