/* Where a lot went, as it is handed to an inspector. */
#include "made.h"

static void must(const char *line)
{
    cot_fixture_must(&f, line);
}

START_TEST(a_lot_that_is_withdrawn)
{
    must("hand-over A-0001-B A-0003-7 --plants 300 --trays 3");
    must("change lot RH-2601 --withdrawn yes");
    must("trace RH-2601");
    says("Lot RH-2601: Red Harbour, untreated. WITHDRAWN.");
    says("RH-2601 2027-02-15 sown A-0003-7 6");
    says("RH-2601 2027-03-01 handed over A-0003-7 3 300 Alder Ford A-0001-B");
    says("still here A-0003-7");
    says("Handed over: 300 plants; came back: 0");
    must("trace \"Alder Ford\" --csv");
    says("lot,lot_withdrawn,variety,day,what,batch,parent,shared,trays,plants,farm,line,handover");
    says("RH-2601,yes,Red Harbour,2027-03-01,handed over,A-0003-7,,no,3,300,Alder Ford,A-0001-B,");
    must("list batches");
    says("lot withdrawn");
    must("trace KR-2601");
    says("Some stand in trays that other lots share: look at the whole tray.");
    must("trace TR-2601");
    says("Lot TR-2601: Pale Sluice, treated (seed dressing).");
    says("Nothing was sown or handed over.");
}
END_TEST

START_TEST(misused)
{
    ck_assert_int_eq(cot_fixture_run(&f, "trace"), cot_err_row(COT_USAGE)->exit_code);
    ck_assert_int_eq(cot_fixture_run(&f, "trace XX-9"), cot_err_row(COT_NOT_FOUND)->exit_code);
    ck_assert_int_eq(cot_fixture_run(&f, "trace Lettuce"), cot_err_row(COT_INVALID)->exit_code);
    warns("a crop cannot be traced");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/trace");
    TCase *c = tcase_create("trace");
    tcase_set_timeout(c, 60);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, a_lot_that_is_withdrawn);
    tcase_add_test(c, misused);
    suite_add_tcase(s, c);
    return s;
}
