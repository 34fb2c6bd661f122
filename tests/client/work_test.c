/* The work of the house: what each command records, says, warns of, and what it never makes up. */
#include "made.h"

#include <stdlib.h>
#include <string.h>

static void entry_lacks(const char *what)
{
    char *line = cot_fixture_last_entry(&f);
    ck_assert_msg(strstr(line, what) == NULL, "recorded\n%s\nwith %s", line, what);
    free(line);
}

/* --- sow
 * ----------------------------------------------------------------------------------------------------------------- */

START_TEST(sow_says_what_it_recorded)
{
    cot_fixture_must(&f, "sow RH-2601 \"128 square\" --trays 6 --plate \"128 one-hole\" --bench 3 --day 2027-02-15");
    says("A-0006-1: 6 trays of 128 square, Red Harbour from lot RH-2601, by plate 128 one-hole, 1 seed a cell, bench "
         "3, sown "
         "2027-02-15 (W07).");
    says("Count the stand from 2027-03-01 (W09).");
    says("Expected ready 2027-03-22 (W12), good until 2027-04-05 (W14).");
    says("mix may carry Legionella");
    ck_assert_str_eq(f.err, "");
    entry_has("\"code\":\"A-0006-1\"");
}
END_TEST

START_TEST(sow_takes_today)
{
    cot_fixture_must(&f, "sow rh-2601 128 --trays 1");
    says("sown 2027-03-01 (W09)");
    says("by hand, 1 seed a cell");
    entry_lacks("\"plate\"");
    entry_lacks("\"ready\"");
    entry_lacks("\"per_cell\"");
}
END_TEST

START_TEST(sow_several_seeds_in_rows)
{
    cot_fixture_must(&f, "sow KR-2601 128 --rows 4 --shared \"mixed 2\" --per-cell 8 --at-least 5");
    says("4 rows of shared tray mixed 2 (128 square), Kiln Red from lot KR-2601, by hand, 8 seeds a cell (usable with "
         "5 plants or more)");
    entry_has("\"tray_rows\":4");
    entry_lacks("\"trays\"");
}
END_TEST

START_TEST(misses_put_right)
{
    cot_fixture_must(&f, "sow RH-2601 128 --trays 2 --plate \"128 one-hole\" --put-right");
    says("by plate 128 one-hole, misses put right, 1 seed a cell");
    entry_has("\"put_right\":true");
    ck_assert_int_eq(cot_fixture_run(&f, "sow RH-2601 128 --trays 2 --put-right"), cot_err_row(COT_USAGE)->exit_code);
    warns("--put-right goes with --plate");
}
END_TEST

START_TEST(treated_seed_gets_its_caution)
{
    cot_fixture_must(&f, "sow TR-2601 128 --trays 2");
    says("Caution: treated seed (seed dressing): gloves, no dust, wash your hands, keep it from food and feed.");
    warns("lot TR-2601 was to be used by 2027-01-31 (W04)");
}
END_TEST

START_TEST(a_wrong_plate_is_asked_about)
{
    cot_fixture_must(&f, "sow RH-2601 128 --trays 2 --plate \"98 one-hole\"");
    warns("fills 98 cells at a drop, and a tray of 128 square has 128 cells");
}
END_TEST

START_TEST(days_that_look_like_slips)
{
    cot_fixture_must(&f, "sow RH-2601 128 --trays 2 --day 2027-03-02");
    warns("2027-03-02 (W09) is a day to come");
    cot_fixture_must(&f, "sow RH-2601 128 --trays 2 --day 2026-12-31");
    ck_assert_str_eq(f.err, "");
    cot_fixture_must(&f, "sow RH-2601 128 --trays 2 --day 2026-12-30");
    warns("2026-12-30 (W53) is 61 days ago");
    cot_fixture_must(&f, "move A-0003-7 --bench 4 --day 2027-02-10");
    warns("2027-02-10 (W06) is before A-0003-7 was sown (2027-02-15 (W07))");
}
END_TEST

START_TEST(json_for_scripts)
{
    cot_fixture_must(&f, "sow TR-2601 128 --trays 2 --json");
    says("{\"recorded\":[{\"kind\":\"sown\",\"digest\":\"");
    says("\",\"code\":\"A-0006-1\"}],\"cautions\":[\"treated seed");
    says("\"warnings\":[\"lot TR-2601");
    ck_assert_str_eq(f.err, "");
}
END_TEST

/* --- count
 * --------------------------------------------------------------------------------------------------------------- */

START_TEST(count_by_tray)
{
    cot_fixture_must(&f, "count A-0003-7 5:128/121/6/1/0 3:128/118/8/2/1");
    says("A-0003-7: stand counted on 2027-03-01 (W09). tray 3: 128 cells looked at, 118 usable, 8 blanks, 2 culls, 1 "
         "double tray 5:");
    says("usable plants in all; count on ");
    entry_has("\"counts\":[{\"tray\":3,\"looked\":128,\"usable\":118,\"blanks\":8,\"culls\":2,\"doubles\":1},"
              "{\"tray\":5,\"looked\":128,\"usable\":121,\"blanks\":6,\"culls\":1,\"doubles\":0}]");
}
END_TEST

START_TEST(three_forms_are_one)
{
    static const char *const lines[] = {
        "count A-0003-7 3:128/118/8/2/1",
        "count A-0003-7 3:looked=128,usable=118,blanks=8,culls=2,doubles=1",
        "count A-0003-7 --tray 3 --looked 128 --usable=118 --blanks 8 --culls 2 --doubles 1",
        "count --tray=3 --looked 128 --usable 118 A-0003-7 --blanks 8 --culls 2 --doubles 1",
        "count A-0003-7 3:?/118/8/2/1",
        "count A-0003-7 3:128/?/8/2/1",
    };
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        cot_fixture_must(&f, lines[i]);
        entry_has("\"counts\":[{\"tray\":3,\"looked\":128,\"usable\":118,\"blanks\":8,\"culls\":2,\"doubles\":1}]");
    }
}
END_TEST

START_TEST(blanks_alone_are_of_the_whole_tray)
{
    cot_fixture_must(&f, "count A-0003-7 3:blanks=5 4:blanks=7,culls=2 5:looked=40,blanks=3");
    entry_has("\"counts\":[{\"tray\":3,\"looked\":128,\"blanks\":5},{\"tray\":4,\"looked\":128,\"usable\":119,"
              "\"blanks\":7,\"culls\":2},"
              "{\"tray\":5,\"looked\":40,\"blanks\":3}]");
}
END_TEST

START_TEST(groups_of_options)
{
    cot_fixture_must(&f, "count A-0003-7 --tray 1 --looked 128 --usable 120 --tray 2 --blanks 9 6:128/110/18/0/?");
    entry_has("\"counts\":[{\"tray\":1,\"looked\":128,\"usable\":120},{\"tray\":2,\"looked\":128,\"blanks\":9},"
              "{\"tray\":6,\"looked\":128,\"usable\":110,\"blanks\":18,\"culls\":0}]");
}
END_TEST

START_TEST(pooled_counts)
{
    cot_fixture_must(
        &f,
        "count A-0003-7 --trays 4 --looked 512 --usable 470 --blanks 30 --culls 12 --doubles 3 --note \"in a hurry\"");
    says("4 trays together: 512 cells looked at, 470 usable, 30 blanks, 12 culls, 3 doubles");
    entry_has("\"trays\":4");
    entry_has("\"looked\":512");
    entry_lacks("\"counts\"");
    cot_fixture_must(&f, "count A-0004-5 --trays 1 --blanks 6");
    entry_has("\"looked\":48");
    entry_lacks("\"usable\"");
}
END_TEST

START_TEST(picked_trays_are_marked)
{
    cot_fixture_must(&f, "count A-0003-7 3:128/118/8/2/1 --picked");
    entry_has("\"picked\":true");
    cot_fixture_must(&f, "show A-0003-7");
    says("trays picked by eye: the others may be unlike them");
    cot_fixture_must(&f, "count A-0003-7 3:128/118/8/2/1");
    entry_lacks("picked");
}
END_TEST

/* --- the rest
 * -------------------------------------------------------------------------------------------------------------- */

START_TEST(losses)
{
    cot_fixture_must(&f, "lose A-0003-7 --plants 40 --why \"slugs on bench 3\"");
    says("A-0003-7: 40 plants lost on 2027-03-01 (W09): slugs on bench 3.");
    cot_fixture_must(&f, "lose A-0003-7 --which 2,5 --why dropped --unusable");
    says("A-0003-7: tray 2,5 lost (not usable before)");
    entry_has("\"which\":[2,5]");
    entry_has("\"were_usable\":false");
    cot_fixture_must(&f, "lose A-0003-7 --trays 7 --why flood");
    warns("7 trays lost, but A-0003-7 was sown as 6 trays");
    cot_fixture_must(&f, "lose A-0005-3 --plants 9000 --why flood");
    warns("9000 plants lost, but A-0005-3 likely had");
}
END_TEST

START_TEST(potting_on_makes_a_batch)
{
    cot_fixture_must(&f, "pot-on A-0003-7 \"50 round\" --trays 2 --plants 96 --lost 3 --ready 2027-04-01 --bench 5");
    says("A-0006-1: 96 plants in 2 trays of 50 round, Red Harbour from batch A-0003-7, potted on 2027-03-01 (W09).");
    says("Expected ready 2027-04-01 (W13), good until ");
    cot_fixture_must(&f, "count A-0006-1 1:50/48/2/0/0");
    cot_fixture_must(&f, "pot-on A-0006-1 128 --trays 1 --plants 20");
    says("from batch A-0006-1");
}
END_TEST

START_TEST(patching_thinning_moving)
{
    cot_fixture_must(&f, "patch A-0003-7 --plants 14 --which 3,5");
    says("A-0003-7: 14 plants set into blanks on 2027-03-01 (W09).");
    cot_fixture_must(&f, "thin a3-7 --plants 1");
    says("A-0003-7: 1 plant taken out of doubles");
    cot_fixture_must(&f, "move A-0003-7 --bench \"cold frame 2\" --which 1-3");
    says("A-0003-7: trays 1-3 on bench cold frame 2");
    ck_assert_ptr_null(strstr(f.out, "Caution"));
    cot_fixture_must(&f, "move A-0005-3 --bench 7");
    says("A-0005-3: 30 trays on bench 7 from 2027-03-01 (W09). Caution: wet trays are heavy");
}
END_TEST

/* A line whose farm cannot plant yet: asked about first, then kept, then collected on its own day again. */
START_TEST(a_farm_that_cannot_plant_yet)
{
    cot_fixture_must(&f, "hold A-0001-B --until 2027-04-19 --ask");
    says("A-0001-B, Alder Ford: collects on 2027-04-19 (W16) in place of 2027-04-05 (W14).");
    says("Nothing was recorded.");
    cot_fixture_must(&f, "show A-0001-B");
    says("to be collected 2027-04-05 (W14)");
    cot_fixture_must(&f, "hold A-0001-B --until 2027-04-19");
    says("A-0001-B is kept until 2027-04-19 (W16).");
    cot_fixture_must(&f, "show A-0001-B");
    says("to be collected 2027-04-19 (W16)");
    says("Kept for the farm");
    cot_fixture_must(&f, "release A-0001-B");
    says("A-0001-B is not held any more: it collects on 2027-04-05 (W14).");
    cot_fixture_must(&f, "show A-0001-B");
    says("to be collected 2027-04-05 (W14)");
}
END_TEST

START_TEST(holding_and_releasing)
{
    cot_fixture_must(&f, "release A-0003-7");
    warns("A-0003-7 was not held");
    cot_fixture_must(&f, "hold A-0003-7 --why \"spots on leaves\" --until 2027-03-20");
    says("A-0003-7 is held from 2027-03-01 (W09) until 2027-03-20 (W11): spots on leaves.");
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 10");
    warns("A-0003-7 is held");
    cot_fixture_must(&f, "release A-0003-7 --note clean");
    ck_assert_str_eq(f.err, "");
}
END_TEST

START_TEST(handing_over)
{
    cot_fixture_must(&f, "count A-0003-7 1:128/120/8/0/0 2:128/120/8/0/0 3:128/120/8/0/0 4:128/120/8/0/0 "
                         "5:128/120/8/0/0 6:128/120/8/0/0");
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 360 --trays 3 --owed 3");
    says("A-0001-B: 360 plants, 3 trays of A-0003-7 handed over to Alder Ford on 2027-03-01 (W09): 360 of 500 plants.");
    says("The farm owes 3 empty trays for it.");
    ck_assert_str_eq(f.err, "");
    entry_has("\"owed\":3");
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --trays 2");
    says("256 plants, 2 trays of A-0003-7");
    says("Every cell of the trays was counted as a plant");
    warns("A-0001-B asks for 500 plants and has now had 616.");
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 200");
    warns("200 plants handed over, but A-0003-7 likely had ");
}
END_TEST

/* Sown on 15 February, ready after 35 days, good for 49. */
START_TEST(handing_over_what_is_past_use)
{
    cot_fixture_set_clock(&f, "2027-04-05T08:00:00Z");
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 10");
    ck_assert_str_eq(f.err, "");
    cot_fixture_set_clock(&f, "2027-04-06T08:00:00Z");
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 10");
    warns("A-0003-7 was good until 2027-04-05 (W14): look whether the plants are still fit to go.");
    cot_fixture_set_clock(&f, COT_FIXTURE_NOW);
}
END_TEST

START_TEST(handing_over_the_wrong_thing)
{
    cot_fixture_must(&f, "hand-over A-0002-9 A-0003-7 --plants 20");
    warns("A-0003-7 is Red Harbour, and A-0002-9 asks for Kiln Red.");
    cot_fixture_must(&f, "change line A-0001-B --organic yes --untreated yes --format 50");
    cot_fixture_must(&f, "change lot RH-2601 --owner \"Weir Hill\" --treated yes");
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 20");
    warns("A-0003-7 stands in 128 square, and A-0001-B asks for 50 round.");
    warns("A-0001-B asks for untreated seed, and A-0003-7 is of treated seed.");
    warns("A-0001-B asks for organic seed, and A-0003-7 is not.");
    warns("A-0003-7 is of Weir Hill's own seed, and A-0001-B is another farm's line.");
}
END_TEST

START_TEST(bringing_back)
{
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 100 --day 2027-02-27");
    cot_fixture_must(&f, "bring-back A-0001-B --plants 30 --why \"no room on the van\"");
    says("A-0001-B: 30 plants of the hand-over of 2027-02-27 (W08) came back on 2027-03-01 (W09): no room on the van.");
    says("They stand in A-0003-7 again.");
    cot_fixture_must(&f, "bring-back A-0001-B --plants 80 --unusable --why frosted");
    warns("only 70 plants of this hand-over are still out");
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 50");
    ck_assert_int_eq(cot_fixture_run(&f, "bring-back A-0001-B --plants 5 --why x"),
                     cot_err_row(COT_AMBIGUOUS)->exit_code);
    warns("name one by its first characters: ");
    char *id = strstr(f.err, "(2027-03-01"), line[80];
    ck_assert_ptr_nonnull(id);
    snprintf(line, sizeof line, "bring-back %.10s --plants 5 --why x", id - 11);
    cot_fixture_must(&f, line);
    says("5 plants of the hand-over of 2027-03-01 (W09)");
}
END_TEST

START_TEST(empties_and_notes)
{
    cot_fixture_must(&f, "empties weir --trays 12 --format 50");
    says("Weir Hill brought back 12 empty trays of 50 round on 2027-03-01 (W09).");
    cot_fixture_must(&f, "note \"heating off from 2 to 5\"");
    says("Noted: heating off from 2 to 5 Seen by the house's staff.");
    cot_fixture_must(&f, "note \"roots round\" --about A-0003-7");
    says("Noted about A-0003-7: roots round");
    cot_fixture_must(&f, "note \"ring first\" --about A-0001-B");
    says("Seen by the house's staff and Alder Ford.");
    cot_fixture_must(&f, "note \"gate code changed\" --farm \"Weir Hill\"");
    says("Seen by the house's staff and Weir Hill.");
}
END_TEST

START_TEST(taking_back)
{
    cot_fixture_must(&f, "count A-0003-7 3:blanks=5");
    cot_fixture_must(&f, "lose A-0003-7 --plants 4 --why slugs");
    cot_fixture_must(&f, "take-back last --why \"wrong batch\"");
    says("This takes back: loss of A-0003-7: 4 plants, why slugs, day it was done 2027-03-01; recorded by Wren (A ");
    says("Taken back.");
    cot_fixture_must(&f, "take-back last");
    says("This takes back: stand count of A-0003-7");
    cot_fixture_must(&f, "take-back A-0004-5");
    says("This takes back: sowing: code on the tag A-0004-5");
    ck_assert_int_ne(cot_fixture_run(&f, "take-back A-0004-5"), 0);
    cot_fixture_must(&f, "lose A-0003-7 --plants 4 --why slugs --json");
    char *digest = strstr(f.out, "\"digest\":\""), line[80];
    ck_assert_ptr_nonnull(digest);
    snprintf(line, sizeof line, "take-back %.9s", digest + strlen("\"digest\":\""));
    cot_fixture_must(&f, line);
    ck_assert_int_eq(cot_fixture_run(&f, line), cot_err_row(COT_INVALID)->exit_code);
    warns("taken back already");
}
END_TEST

START_TEST(taking_back_what_others_hang_on)
{
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 100");
    cot_fixture_must(&f, "count A-0003-7 3:blanks=5");
    cot_fixture_must(&f, "take-back A-0003-7");
    warns("about A-0003-7");
}
END_TEST

/* --- a hand's laptop
 * ------------------------------------------------------------------------------------------------------ */

static void hand(void)
{
    cot_fixture_start(&f, COT_PART_HAND);
}

START_TEST(a_hand_describes_lots_and_plates_only)
{
    cot_fixture_must(&f, "add plate \"128 one-hole\" --cells 128 --holes 1");
    ck_assert_int_eq(cot_fixture_run(&f, "add farm \"Alder Ford\""), cot_err_row(COT_NOT_ALLOWED)->exit_code);
    ck_assert_int_eq(cot_fixture_run(&f, "add crop Lettuce"), cot_err_row(COT_NOT_ALLOWED)->exit_code);
    warns("a manager of the house records it");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("work");
    TCase *c = tcase_create("house");
    const TTest *const tests[] = {
        sow_says_what_it_recorded,
        sow_takes_today,
        sow_several_seeds_in_rows,
        misses_put_right,
        treated_seed_gets_its_caution,
        a_wrong_plate_is_asked_about,
        days_that_look_like_slips,
        json_for_scripts,
        count_by_tray,
        three_forms_are_one,
        blanks_alone_are_of_the_whole_tray,
        groups_of_options,
        pooled_counts,
        picked_trays_are_marked,
        losses,
        potting_on_makes_a_batch,
        patching_thinning_moving,
        holding_and_releasing,
        a_farm_that_cannot_plant_yet,
        handing_over,
        handing_over_what_is_past_use,
        handing_over_the_wrong_thing,
        bringing_back,
        empties_and_notes,
        taking_back,
        taking_back_what_others_hang_on,
    };
    tcase_set_timeout(c, 120);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    for (size_t i = 0; i < sizeof tests / sizeof tests[0]; i++) tcase_add_test(c, tests[i]);
    suite_add_tcase(s, c);
    TCase *h = tcase_create("hand");
    tcase_add_checked_fixture(h, hand, leave);
    tcase_add_test(h, a_hand_describes_lots_and_plates_only);
    suite_add_tcase(s, h);
    return s;
}
