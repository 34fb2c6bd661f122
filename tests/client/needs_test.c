/* Materials of the planned sowings, and the shopping list. */
#include "made.h"

static void must(const char *line)
{
    cot_fixture_must(&f, line);
}

START_TEST(needed_and_bought)
{
    must("needs");
    says("No sowing is planned: `cotyl plan` plans them.");
    must("add planned --lot RH-2601 --format \"128 square\" --trays 10 --sow-day 2027-03-15");
    must("stock --mix 20");
    must("stock --trays 50 --format \"128 square\"");
    must("needs");
    says("2027-W11 2027-03-15 1 10 1280 39 L 10 1 h");
    says("Red Harbour, RH-2601 1280 seeds");
    says("growing mix 39 L 20 L 2027-03-15");
    says("trays of 128 square 10 trays 50 trays");
    says("labels 10 labels not counted");
    must("shopping");
    says("2027-03-01 growing mix 19 L 2027-03-15");
    says("Delivery takes 14 days (assumed; `cotyl rule --delivery-days N` says otherwise).");
    says("`cotyl rule --bag-l N`");
    must("shopping --delivery 21");
    says("2027-02-22 growing mix 19 L 2027-03-15 too late to order");
    must("shopping --csv");
    says("order_by,what,lot,variety,format,amount,unit,needed_on,late,mg,bags,supplier");
    says("2027-03-01,mix,,,,19,L,2027-03-15,no,,,");
    must("needs --weeks --json");
    says("{\"week\":\"2027-W11\",\"from\":\"2027-03-15\",\"sowings\":1,\"trays\":10,\"seeds\":1280,\"mix_l\":39,"
         "\"labels\":10,\"minutes\":70}");
    must("needs --until 2027-03-10");
    says("No sowing is planned");
    ck_assert_int_eq(cot_fixture_run(&f, "needs --until 2027-02-10"), cot_err_row(COT_USAGE)->exit_code);
    ck_assert_int_eq(cot_fixture_run(&f, "shopping --delivery -3"), cot_err_row(COT_INVALID)->exit_code);
}
END_TEST

/* Plugs are bought like seed, from whom the lot says, and set instead of sown. */
START_TEST(plugs)
{
    must("add lot \"KR plugs\" --variety \"Kiln Red\" --form plug --supplier \"Ferry Lane\" --stock-seeds 100");
    must("add planned --lot \"KR plugs\" --format \"50 round\" --trays 4 --sow-day 2027-03-22");
    must("needs");
    says("Kiln Red, KR plugs 200 plugs 100 plugs 2027-03-22");
    must("shopping");
    says("2027-03-08 Kiln Red, KR plugs 100 plugs 2027-03-22 from Ferry Lane");
    must("shopping --csv");
    says("2027-03-08,plugs,KR plugs,Kiln Red,,100,plugs,2027-03-22,no,,,Ferry Lane");
    must("today --on 2027-03-22");
    says("sow 4 x 50 round plugs of Kiln Red, KR plugs");
    must("sow \"KR plugs\" \"50 round\" --trays 4");
    must("trays \"KR plugs\" \"50 round\" --trays 4");
    says("Kiln Red");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/needs");
    TCase *c = tcase_create("needs");
    tcase_set_timeout(c, 60);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, needed_and_bought);
    tcase_add_test(c, plugs);
    suite_add_tcase(s, c);
    return s;
}
