/* Places, raising days, closed days, stock and planned sowings, as people type them and read them. */
#include "made.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void must(const char *line)
{
    cot_fixture_must(&f, line);
}

static void not_said(const char *what)
{
    ck_assert_msg(!cot_fixture_has(f.out, what), "said: %s", f.out);
}

/* --- Places and days ---------------------------------------------------------------------------------------------- */

START_TEST(places)
{
    must("list places");
    says("There are no places yet.");
    must("add place chamber --sort chamber --spots 60 --group warm");
    says("Added place chamber: sort chamber, space 60 trays, temperature group warm.");
    must("add place \"bench 3\" --sort bench --spots 40 --from 2027-01-04");
    must("add place \"cold frame 2\" --sort frame --spots 120 --until 2027-06-30");
    must("list places");
    says("bench 3 bench 40 trays yes");
    says("chamber chamber 60 trays warm yes");
    says("cold frame 2 frame 120 trays until 2027-06-30");
    must("change place \"bench 3\" --spots 44");
    says("Changed place bench 3: space 40 trays -> 44 trays.");
    must("show \"bench 3\"");
    says("bench 3, place sort bench space 44 trays from 2027-01-04");
    must("list places --csv");
    says("name,sort,spots,group,from,until,text");
    says("cold frame 2,frame,120,,,2027-06-30,");
    must("list places --json");
    says("{\"name\":\"bench 3\",\"sort\":\"bench\",\"spots\":44,\"group\":null,\"from\":\"2027-01-04\",");
}
END_TEST

/* What stands where, for one place, for all, and for a batch; too much on a bench is said. */
START_TEST(what_stands_where)
{
    must("add place \"bench 3\" --sort bench --spots 6");
    must("benches \"bench 3\"");
    says("Nothing stands there, and nothing is planned.");
    must("sow RH-2601 \"128 square\" --trays 8 --bench \"bench 3\" --day 2027-02-15");
    must("benches");
    says("Place Sort Holds Free");
    says("bench 3 bench 6 -2");
    says("Too full: bench 3 from ");
    must("benches \"bench 3\" --weeks 9");
    says("Red Harbour 128 square 8 8");
    says("bench 3 holds 6 spots: -2 free that day, -2 on the fullest of the 9 weeks.");
    must("show \"bench 3\"");
    says("8 trays of 128 square, Red Harbour, until ");
    says("free -2 of 6 spots: too full");
    must("show \"bench 3\" --json");
    says("\"stays\":[{\"code\":\"");
    must("benches --csv");
    says("place,sort,group,spots,week,from,to,used,free");
    says("bench 3,bench,,6,");
    ck_assert_int_eq(cot_fixture_run(&f, "benches --weeks 9"), cot_err_row(COT_INVALID)->exit_code);
    warns("--weeks: \"9\" is not between 1 and 6");
    ck_assert_int_eq(cot_fixture_run(&f, "benches --weeks -2 --csv"), cot_err_row(COT_INVALID)->exit_code);
    ck_assert_int_eq(cot_fixture_run(&f, "benches nowhere"), cot_err_row(COT_NOT_FOUND)->exit_code);
}
END_TEST

/* What is odd about a sowing is said and not refused: a plate that cannot fit, a lot with too little seed or called
 * back, a day that is past or off. Each line has what it warns of; the plan takes nothing of a lot that is empty. */
START_TEST(odd_sowings)
{
    static const struct {
        const char *line, *warning;
    } odd[] = {
        {"add planned --lot RH-2601 --format \"128 square\" --trays 2 --sow-day 2027-03-08 --plate \"98 one-hole\"",
         "plate 98 one-hole fills 98 cells at a drop, and a tray of 128 square has 128 cells"},
        {"add planned --lot RH-2601 --format \"128 square\" --trays 2 --sow-day 2027-03-08 --plate \"98 one-hole\"",
         "`cotyl plates \"RH-2601\" \"128 square\"` names those that fit"},
        {"add planned --lot RH-2601 --format \"128 square\" --trays 2 --sow-day 2027-02-08",
         "2027-02-08 (W06) is past"},
        {"add planned --lot RH-2601 --format \"128 square\" --trays 2 --sow-day 2027-03-13",
         "nobody works on 2027-03-13 (W10); the next working day is 2027-03-15 (W11)"},
        {"add planned --lot few --format \"128 square\" --trays 2 --sow-day 2027-03-08",
         "lot few has about 200 seeds left by the book, and this takes 256 seeds"},
        {"sow few \"128 square\" --trays 2", "lot few has about 200 seeds left by the book, and this takes 256 seeds"},
        {"sow few \"128 square\" --trays 1", "lot few has about none left by the book, and this takes 128 seeds"},
        {"change line A-0001-B --on 2027-02-08", "2027-02-08 (W06) is past"},
        {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on 2027-02-08", "2027-02-08 (W06) is past"},
    };
    must("add lot few --variety \"Pale Sluice\" --label-germ 90% --stock-seeds 200");
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
        must(odd[i].line);
        cot_fixture_warns(&f, odd[i].warning);
    }
    must("change lot TR-2601 --withdrawn yes");
    must("order \"Alder Ford\" \"Pale Sluice\" --plants 400 --format \"128 square\" --on 2027-05-10");
    must("plan --csv");
    says(",new,,,Lettuce,Pale Sluice,,128 square,"); /* to buy: neither the empty lot nor the one called back */
}
END_TEST

/* A planned sowing that is late says which lines wait for it, and by when it must be sown for them: 35 days before
 * 2027-07-05 and the three days later that will do is 2027-06-03. */
START_TEST(lines_that_wait)
{
    char line[160], code[12];
    must("order \"Alder Ford\" \"Red Harbour\" --plants 9000 --format \"128 square\" --on 2027-07-05 --late 3");
    snprintf(code, sizeof code, "%.8s", strstr(f.out, "A-0006"));
    must("promise --all");
    snprintf(line, sizeof line,
             "add planned --lot RH-2601 --format \"128 square\" --trays 80 --sow-day 2027-05-03 "
             "--lines %s",
             code);
    must(line);
    must("list planned --on 2027-05-03");
    not_said("Waits for");
    must("list planned --on 2027-05-10");
    says("7 days late");
    says("Waits for A-0007-0: A-0006-1, Alder Ford, 2027-07-05 (W27): short by 9000 plants; sow by 2027-06-03 (W22)");
    must("show A-0007-0 --on 2027-05-10");
    says("waits for it A-0006-1, Alder Ford, 2027-07-05 (W27): short by 9000 plants;");
    must("sow --planned A-0007-0 --trays 80 --day 2027-02-28");
    must("show A-0007-0");
    says("was for A-0006-1, Alder Ford, 2027-07-05 (W27): ");
}
END_TEST

/* A planned sowing says where it will stand, a batch where it stands. */
START_TEST(where_a_batch_stands)
{
    char line[80], code[12];
    must("add place \"bench 3\" --sort bench --spots 40");
    must("add planned --lot RH-2601 --format \"128 square\" --trays 4 --sow-day 2027-03-29 --bench \"bench 3\"");
    must("list planned --csv");
    snprintf(code, sizeof code, "%.8s", strchr(f.out, '\n') + 1);
    snprintf(line, sizeof line, "show %s --on 2027-03-20", code);
    must(line);
    says("will stand bench 3, 4 trays of 128 square, from 2027-03-31 until ");
}
END_TEST

START_TEST(days_on_which_places_are_shut)
{
    must("add place \"bench 3\" --sort bench --spots 40");
    must("shut \"bench 3\" --from 2027-03-01 --until 2027-03-05 --why \"new heating\"");
    says("bench 3: out of use from 2027-03-01 (W09) to 2027-03-05 (W09): new heating.");
    must("list places");
    says("out of use until 2027-03-05");
    must("list places --on 2027-03-06");
    says("40 trays yes");
    must("show place \"bench 3\"");
    says("out of use 2027-03-01 (W09) to 2027-03-05 (W09): new heating");
    must("take-back last");
    says("This takes back: closing of bench 3:");
    must("list places");
    says("40 trays yes");
}
END_TEST

START_TEST(closed_days)
{
    must("list shut");
    says("The house is closed on no day, and no place is out of use.");
    must("shut --from 2027-03-29 --why holiday");
    says("The house: closed on 2027-03-29 (W13): holiday.");
    must("shut");
    says("The house: closed on 2027-03-01 (W09).");
    must("list shut --on 2027-03-10");
    says("2027-03-01 2027-03-01 the house (over)");
    says("2027-03-29 2027-03-29 the house holiday");
    must("list shut --json");
    says("\"from\":\"2027-03-29\",\"until\":\"2027-03-29\",\"place\":null");
    must("shut --from 2027-01-04 --until 2027-01-05");
    warns("these days are over");
}
END_TEST

/* Softly: what a bench is called stands as it was typed, and nobody is warned before there are places. */
START_TEST(benches_that_are_no_places)
{
    must("move A-0003-7 --bench 4");
    says("A-0003-7: 6 trays on bench 4 from");
    ck_assert_str_eq(f.err, "");
    must("add place \"bench 3\" --sort bench --spots 40");
    must("move A-0003-7 --bench \"bench 4\"");
    warns("there is no place called \"bench 4\"; it is kept as you said. The places are: bench 3.");
    cot_fixture_entry_has(&f, "\"bench\":\"bench 4\"");
    must("move A-0003-7 --bench \"Bench 3\"");
    ck_assert_str_eq(f.err, "");
    says("6 trays on Bench 3 from");
    must("sow RH-2601 128 --trays 1 --bench shed");
    warns("there is no place called \"shed\"");
}
END_TEST

/* --- Raising days ------------------------------------------------------------------------------------------------- */

START_TEST(raising_days)
{
    must("sow RH-2601 128 --trays 1");
    says("Expected ready 2027-04-05 (W14), good until 2027-04-19 (W16).");
    must("add raising \"Lettuce in winter\" --crop Lettuce --from-week 40 --to-week 9 --tray-days 42");
    says("from ISO week 40, to ISO week 9");
    must("sow RH-2601 128 --trays 1 --day 2027-02-28");
    says("Expected ready 2027-04-11 (W14), good until 2027-04-25 (W16).");
    must("sow RH-2601 128 --trays 1 --day 2027-03-08"); /* week 10 */
    says("Expected ready 2027-04-12 (W15)");
    must("change raising \"Lettuce in winter\" --to-week 10");
    must("sow RH-2601 128 --trays 1 --day 2027-03-08");
    says("Expected ready 2027-04-19 (W16)");
    must("list raisings");
    says("Lettuce in winter Lettuce any 40 to 10 42");
    must("add raising \"Lettuce, plugs\" --crop Lettuce --format 128 --tray-days 40 --pot-days 14 --pot-format 50");
    must("list raisings");
    says("Lettuce, plugs Lettuce 128 square all year 40 50 round, day 14");
    must("show raising \"Lettuce, plugs\"");
    says("potted on to 50 round");
}
END_TEST

/* --- Stock -------------------------------------------------------------------------------------------------------- */

START_TEST(stock)
{
    must("list stock");
    says("Nothing was counted yet");
    must("stock --mix 1200");
    says("On hand on 2027-03-01 (W09): 1200 L of growing mix.");
    says("Legionella");
    must("stock --mix 317gal");
    says("On hand on 2027-03-01 (W09): 1200 L of growing mix.");
    must("stock --labels 500 --day 2027-02-27");
    must("stock --trays 340 --format 128 --day 2027-02-20");
    says("On hand on 2027-02-20 (W07): 340 trays of 128 square.");
    must("list stock");
    says("growing mix 1200 L 2027-03-01 today");
    says("labels 500 2027-02-27 2 days");
    says("trays of 128 square 340 2027-02-20 9 days");
    must("list stock --on 2027-02-26 --json");
    says("{\"what\":\"trays\",\"format\":\"128 square\",\"amount\":340,\"unit\":\"trays\",\"day\":\"2027-02-20\","
         "\"age_days\":6}");
    not_said("\"mix\"");
}
END_TEST

/* --- Planned sowings ---------------------------------------------------------------------------------------------- */

static void plan(void)
{
    must("add planned --lot RH-2601 --format 128 --trays 6 --sow-day 2027-03-03 --plate \"128 one-hole\" "
         "--bench \"bench 3\" --lines A-0001-B --ready 2027-04-06");
    says("Added planned sowing A-0006-1: 6 trays");
    says("serves A-0001-B");
}

START_TEST(planned)
{
    must("list planned");
    says("There are no planned sowings.");
    plan();
    must("list planned");
    says("A-0006-1 2027-03-03 RH-2601 6 x 128 square bench 3 to come");
    must("list planned --on 2027-03-05");
    says("2 days late");
    must("change planned A-0006-1 --sow-day 2027-03-04");
    says("day to sow 2027-03-03 -> 2027-03-04");
    must("show planned A-0006-1");
    says("day to sow 2027-03-04");
    says("pinned, kept as you said seed lot, tray format, trays, seeder plate, day to sow, expected ready, bench,");
    says("bench, serves");
    must("show A-0006-1 --json");
    says("\"done\":{\"on\":\"2027-03-01\",\"state\":\"to_come\",\"unit\":\"trays\",\"planned\":6,\"sown\":0,");
    must("list planned --csv");
    says("A-0006-1,2027-03-04,2027-W09,RH-2601,128 square,6,,,128 one-hole,");
    must("add planned --lot RH-2601 --format 128 --rows 3 --shared \"mixed 2\" --sow-day 2027-03-08 --pins none");
    not_said("pinned");
    must("change planned A-0007-0 --trays 2");
    says("pinned none -> trays");
    must("list planned");
    says("2 x 128 square");
}
END_TEST

START_TEST(carried_out)
{
    plan();
    must("sow --planned A-0006-1");
    says("A-0006-1 was planned for 2027-03-03 (W09): 2 days early.");
    says("6 trays of 128 square, Red Harbour from lot RH-2601, by plate 128 one-hole, 1 seed a cell, bench 3");
    says("Expected ready 2027-04-05"); /* from the day it was sown, not the plan's */
    cot_fixture_entry_has(&f, "\"planned\":");
    must("show A-0006-1");
    says("state sown 2 days early");
    says("sown for it A-0007-0: 6 trays of 128 square");
    must("show A-0007-0");
    says("carries out A-0006-1");
    must("sow RH-2601 128 --planned A-0006-1 --trays 2 --by-hand --day 2027-03-01");
    says("2 trays of 128 square, Red Harbour from lot RH-2601, by hand");
    warns("A-0006-1 was carried out before, 6 trays; what is sown now comes on top.");
    must("list planned");
    says("sown early, 2 more");
    must("show A-0006-1");
    says("sown 2 days early, 2 trays more");
    must("take-back A-0007-0");
    must("list planned");
    says("2 of 6 trays sown early");
    must("sow TR-2601 50 --planned A-0006-1 --trays 6 --by-hand");
    warns("A-0006-1 was planned from lot RH-2601.");
    warns("A-0006-1 was planned in 128 square.");
    must("list planned --json");
    says("\"state\":\"done\",\"sown\":8,\"late_days\":-2");
}
END_TEST

START_TEST(on_its_day)
{
    plan();
    cot_fixture_set_clock(&f, "2027-03-03T08:00:00Z");
    must("sow --planned A-0006-1 --trays 4");
    not_said("was planned for");
    says("Expected ready 2027-04-06"); /* as the plan says */
    must("list planned");
    says("4 of 6 trays sown");
}
END_TEST

START_TEST(dropped)
{
    plan();
    must("drop A-0006-1 --why \"the farm buys its own\"");
    says("A-0006-1: dropped: lot RH-2601, to be sown 2027-03-03 (W09): the farm buys its own.");
    must("list planned");
    says("There are no planned sowings.");
    must("show A-0006-1");
    says("state dropped");
    must("sow --planned A-0006-1"); /* what was done is recorded whatever the plan says */
    warns("the planned sowing A-0006-1 was dropped");
    must("take-back A-0007-0");
    must("history A-0006-1");
    says("planned sowing dropped");
}
END_TEST

/* A planned sowing is a thing like others: notes are about it, its code takes it back. */
START_TEST(noted_and_taken_back)
{
    plan();
    must("note \"ask about the date\" --about A-0006-1");
    must("take-back A-0006-1 --why \"entered twice\"");
    must("list planned");
    says("There are no planned sowings.");
}
END_TEST

/* --- What people mistype ------------------------------------------------------------------------------------------ */

static const struct {
    const char *line, *says;
    enum cot_err err;
} bad[] = {
    {"add place x --sort bench --spots 0", "--spots: space: \"0\" is out of range", COT_INVALID},
    {"add place x --sort bench", "the space is missing: --spots", COT_USAGE},
    {"add place x --spots 4", "the sort is missing: --sort", COT_USAGE},
    {"add place x --sort barn --spots 4", "write one of: chamber, bench, frame", COT_INVALID},
    {"add place x --sort bench --spots 4 --from 2027-05-01 --until 2027-04-01", "lies after", COT_INVALID},
    {"add place \"Bench 1\" --sort bench --spots 4", "already", COT_CONFLICT},
    {"change place \"bench 1\" --spots none", "cannot be cleared", COT_INVALID},
    {"change place \"bench 1\" --until 2027-02-28", "place bench 1: from 2027-03-01 lies after until 2027-02-28",
     COT_INVALID},
    {"change raising winter --tray-days 2", "is more than", COT_INVALID},
    {"change raising winter --to-week none", "give both or neither", COT_INVALID},
    {"change place \"bench 2\" --spots 3", "no place", COT_NOT_FOUND},
    {"shut \"bench 2\"", "did you mean: bench 1", COT_NOT_FOUND},
    {"shut --from 2027-03-29 --until 2027-03-28", "lies after", COT_INVALID},
    {"shut --from Easter", "2027-03-29", COT_INVALID},
    {"add raising x --crop Lettuce", "without a figure", COT_INVALID},
    {"add raising x --tray-days 30", "the crop is missing", COT_USAGE},
    {"add raising x --crop Lettuce --tray-days 0", "out of range", COT_INVALID},
    {"add raising x --crop Lettuce --tray-days 30 --from-week 54 --to-week 3", "1 to 53", COT_INVALID},
    {"add raising x --crop Lettuce --tray-days 30 --from-week 10", "give both or neither", COT_INVALID},
    {"add raising x --crop Lettuce --tray-days 30 --tray-days-max 20", "is more than", COT_INVALID},
    {"add raising x --crop Lettuce --tray-days 30 --pot-days 40 --pot-format 50", "is more than", COT_INVALID},
    {"add raising x --crop Lettuce --tray-days 30 --pot-days 10", "to which tray format", COT_INVALID},
    {"add raising x --crop Lettuce --format 50 --tray-days 30 --pot-days 10 --pot-format 50", "sown in", COT_INVALID},
    {"stock", "give one of", COT_USAGE},
    {"stock --mix 3 --labels 4", "give one of", COT_USAGE},
    {"stock --trays 30", "of which tray format", COT_USAGE},
    {"stock --labels 30 --format 128", "goes with --trays", COT_USAGE},
    {"stock --mix -4", "--mix", COT_INVALID},
    {"stock --mix 1.5", "not a whole number", COT_INVALID},
    {"add planned --lot RH-2601 --format 128 --sow-day 2027-03-08", "say how many trays", COT_INVALID},
    {"add planned --lot RH-2601 --format 128 --trays 0 --sow-day 2027-03-08", "at least 1", COT_INVALID},
    {"add planned --lot RH-2601 --format 128 --trays 2", "the day to sow is missing", COT_USAGE},
    {"add planned --lot RH-2601 --trays 2 --sow-day 2027-03-08", "the tray format is missing", COT_USAGE},
    {"add planned X --lot RH-2601 --format 128 --trays 2 --sow-day 2027-03-08", "what to do with \"X\"", COT_USAGE},
    {"add planned --lot RH-2601 --format 128 --trays 2 --sow-day 2027-03-08 --ready 2027-03-01", "lies after",
     COT_INVALID},
    {"add planned --lot RH-2601 --format 128 --trays 2 --rows 2 --shared m --sow-day 2027-03-08", "not both",
     COT_INVALID},
    {"add planned --lot RH-2601 --format 128 --trays 2 --sow-day 2027-03-08 --pins colour", "no field \"colour\"",
     COT_INVALID},
    {"add planned --lot RH-2601 --format 128 --trays 2 --sow-day 2027-03-08 --lines A-0003-7", "--lines",
     COT_NOT_FOUND},
    {"change planned A-0003-7 --trays 2", "is the code of a batch, and a planned sowing's is wanted", COT_NOT_FOUND},
    {"sow", "--planned CODE", COT_USAGE},
    {"sow RH-2601", "--planned CODE", COT_USAGE},
    {"sow --planned A-0003-7", "is the code of a batch", COT_NOT_FOUND},
    {"sow --planned A-0099-Z", "check character", COT_INVALID},
    {"drop A-0001-B", "is the code of an order line", COT_NOT_FOUND},
    {"rule --work-days 1,8", "a day that no week has", COT_INVALID},
    {"rule --work-days sometimes", "no list of weekdays", COT_INVALID},
    {"rule --trays-a-day 0", "out of range", COT_INVALID},
};

START_TEST(bad_input)
{
    int64_t before, after;
    struct cot_id chain;
    must("add place \"bench 1\" --sort bench --spots 4 --from 2027-03-01");
    must("add raising winter --crop Lettuce --from-week 40 --to-week 9 --tray-days 42 --chamber-days 3");
    cot_fixture_head(&f, &before, &chain);
    int code = cot_fixture_run(&f, bad[_i].line);
    ck_assert_msg(code == cot_err_row(bad[_i].err)->exit_code, "%s: exit %d\n%s", bad[_i].line, code, f.err);
    ck_assert_msg(cot_fixture_has(f.err, bad[_i].says), "%s\n%s", bad[_i].line, f.err);
    cot_fixture_head(&f, &after, &chain);
    ck_assert_int_eq(before, after);
}
END_TEST

/* --- Sheets, parts ------------------------------------------------------------------------------------------------ */

static void import(const char *kind, const char *text)
{
    char path[128], line[200];
    snprintf(path, sizeof path, "%s/sheet.csv", f.root);
    FILE *out = fopen(path, "w");
    ck_assert(out && fputs(text, out) >= 0 && fclose(out) == 0);
    snprintf(line, sizeof line, "import %s %s", kind, path);
    must(line);
}

START_TEST(sheets)
{
    static const char sheet[] = "Place;Sort;Trays;Temperature group;From\nbench 1;bench;40 trays;;\n"
                                "Keimkammer;chamber;60;warm;2027-01-04\n";
    import("places", sheet);
    says("2 new, 0 changed, 0 the same");
    import("places", sheet);
    says("0 new, 0 changed, 2 the same");
    import("raisings", "Name,Crop,Tray format,From week,To week,Days in tray,Chamber,Pot on to,Days to potting on\n"
                       "Lettuce in winter,Lettuce,,40,9,42,3,,\n"
                       "Tomato plugs,Tomato,128 square,,,49,,50 round,21\n");
    says("2 new");
    must("show raising \"Tomato plugs\"");
    says("days to potting on 21 days potted on to 50 round");
    must("list places --csv");
    import("places", f.out); /* the list comes back */
    says("0 new, 0 changed, 2 the same");
}
END_TEST

START_TEST(hands_record_stock_alone)
{
    struct cot_fixture hand;
    cot_fixture_start(&hand, COT_PART_HAND);
    cot_fixture_must(&hand, "stock --mix 300");
    ck_assert_int_ne(cot_fixture_run(&hand, "add place \"bench 1\" --sort bench --spots 4"), 0);
    ck_assert(cot_fixture_has(hand.err, "a manager of the house records it"));
    ck_assert_int_ne(cot_fixture_run(&hand, "shut --from 2027-03-29"), 0);
    ck_assert(cot_fixture_has(hand.err, "a hand may not record this"));
    cot_fixture_end(&hand);
}
END_TEST

/* The house has no rule here (rules are made online): a test's age is shown, and nothing is asked. */
START_TEST(age_of_a_test)
{
    must("change lot RH-2601 --test-day 2026-09-01");
    must("show lot RH-2601");
    says("age of the test 181 days");
    must("list lots");
    not_said("test again");
    must("rule");
    says("working days Mon to Fri (as usual)");
    says("age at which a lot is tested again never");
    says("length of the usual tray 540 mm (as usual)");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/places");
    TCase *t = tcase_create("places"), *b = tcase_create("bad input");
    tcase_set_timeout(t, 120);
    tcase_add_unchecked_fixture(t, make_house, leave_house);
    tcase_add_checked_fixture(t, house, leave);
    tcase_add_test(t, places);
    tcase_add_test(t, what_stands_where);
    tcase_add_test(t, odd_sowings);
    tcase_add_test(t, lines_that_wait);
    tcase_add_test(t, where_a_batch_stands);
    tcase_add_test(t, days_on_which_places_are_shut);
    tcase_add_test(t, closed_days);
    tcase_add_test(t, benches_that_are_no_places);
    tcase_add_test(t, raising_days);
    tcase_add_test(t, stock);
    tcase_add_test(t, planned);
    tcase_add_test(t, carried_out);
    tcase_add_test(t, on_its_day);
    tcase_add_test(t, dropped);
    tcase_add_test(t, noted_and_taken_back);
    tcase_add_test(t, sheets);
    tcase_add_test(t, hands_record_stock_alone);
    tcase_add_test(t, age_of_a_test);
    suite_add_tcase(s, t);
    tcase_set_timeout(b, 120);
    tcase_add_unchecked_fixture(b, make_house, leave_house);
    tcase_add_checked_fixture(b, house, leave);
    tcase_add_loop_test(b, bad_input, 0, (int)(sizeof bad / sizeof bad[0]));
    suite_add_tcase(s, b);
    return s;
}
