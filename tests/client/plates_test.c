/* Which plate for a sowing, and which for the planned season. */
#include "made.h"

static void must(const char *line)
{
    cot_fixture_must(&f, line);
}

START_TEST(for_a_sowing)
{
    must("plates RH-2601 \"128 square\"");
    says("128 one-hole 1");
    says("By hand, or with a masked plate, it can be sown too.");
    must("plates RH-2601 \"50 round\"");
    says("No plate of the house fits: sow by hand, or mask another.");
    must("plates RH-2601 \"128 square\" --per-cell 3");
    says("No plate of the house fits");
    must("add plate \"64 one-hole\" --cells 64 --holes 1 --misses 2% --twos 3%");
    must("plates RH-2601 \"128 square\" --json");
    says("{\"plate\":\"64 "
         "one-hole\",\"drops\":2,\"misses_permille\":20,\"twos_permille\":30,\"hole_off_um\":0,\"guessed\":false}");
}
END_TEST

START_TEST(for_the_season)
{
    must("plates");
    says("0 sowings planned");
    must("add planned --lot RH-2601 --format \"128 square\" --trays 4 --sow-day 2027-03-08");
    must("add planned --lot KR-2601 --format \"128 square\" --trays 2 --sow-day 2027-03-09");
    must("add planned --lot KR-2601 --format \"50 round\" --trays 2 --sow-day 2027-03-10");
    must("plates");
    says("128 one-hole yes 2 2 2");
    says("98 one-hole no 0 0 0");
    says("3 sowings planned: 1 plate is enough for those that have one; fewer are not.");
    says("No plate of the house fits 1 sowing: by hand, or a plate to buy.");
    ck_assert_int_eq(cot_fixture_run(&f, "plates RH-2601"), cot_err_row(COT_USAGE)->exit_code);
    ck_assert_int_eq(cot_fixture_run(&f, "plates XX-1 \"128 square\""), cot_err_row(COT_NOT_FOUND)->exit_code);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/plates");
    TCase *c = tcase_create("plates");
    tcase_set_timeout(c, 60);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, for_a_sowing);
    tcase_add_test(c, for_the_season);
    suite_add_tcase(s, c);
    return s;
}
