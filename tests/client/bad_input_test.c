/* What people mistype: each line is refused with words that say where and what to do, and nothing is recorded. */
#include "fixture.h"
#include "main.h"

#include <stdlib.h>
#include <string.h>

struct bad {
    const char *line;
    enum cot_err err; /* its exit code is expected */
    const char *says; /* in the words on standard error */
};

static const struct bad describing[] = {
    {"add", COT_USAGE, "say first what kind of thing it is"},
    {"add shed \"Long house\"", COT_USAGE, "farm, crop, variety, format, plate, lot"},
    {"add farm", COT_USAGE, "usage: cotyl add"},
    {"add farm Alder Ford", COT_USAGE, "in quotes"},
    {"add farm \"\"", COT_INVALID, "the name of the farm"},
    {"add farm \"Alder Ford\"", COT_CONFLICT, "cotyl change farm"},
    {"add farm \"alder ford\"", COT_CONFLICT, "\"Alder Ford\" already"},
    {"add farm \"Brook End\" --own yes", COT_USAGE, "does not know what to do with"},
    {"add variety \"Ferry Oak\"", COT_USAGE, "the crop is missing: --crop"},
    {"add variety \"Ferry Oak\" --crop Lettice", COT_NOT_FOUND, "--crop"},
    {"add variety \"Ferry Oak\" --corp Lettuce", COT_USAGE, "did you mean --crop?"},
    {"add format \"72 square\" --rows 6", COT_USAGE, "--cols"},
    {"add format \"72 square\" --rows 0 --cols 12", COT_INVALID, "--rows"},
    {"add format \"72 square\" --rows six --cols 12", COT_INVALID, "--rows"},
    {"add format \"big\" --rows 200 --cols 200", COT_INVALID, "cells"},
    {"add format 72 --rows 6 --cols 10", COT_INVALID, "the name says 72 cells, 6 rows x 10 columns make 60"},
    {"change format \"128 square\" --name 72", COT_INVALID, "the name says 72 cells, 8 rows x 16 columns make 128"},
    {"add plate \"p\" --cells 128", COT_USAGE, "--holes"},
    {"add lot X1 --variety \"Red Harbour\" --test-germ 90", COT_INVALID, "give both or neither"},
    {"add lot X1 --variety \"Red Harbour\" --test-seeds 100 --test-germ 190", COT_INVALID, "is more than"},
    {"add lot X1 --variety \"Red Harbour\" --label-germ 130%", COT_INVALID, "--label-germ"},
    {"add lot X1 --variety \"Red Harbour\" --test-day 31.1.2027", COT_INVALID, "2027-03-29"},
    {"add lot X1 --variety \"Red Harbour\" --form pilled", COT_INVALID, "pelleted"},
    {"add lot RH-2601 --variety \"Red Harbour\"", COT_CONFLICT, "already"},
    {"add line X", COT_USAGE, "there is no kind \"line\""},
    {"change farm \"Alder Ford\"", COT_USAGE, "say what changes"},
    {"change farm \"Elder Fork\" --contact x", COT_NOT_FOUND, "Elder Fork"},
    {"change farm \"Alder Ford\" --name none", COT_INVALID, "cannot be cleared"},
    {"change variety \"Red Harbour\" --crop Lettuce", COT_INVALID, "nothing to record"},
    {"change lot RH-2601 --organic maybe", COT_INVALID, "write yes or no"},
    {"change line A-0001-B --plants 0", COT_INVALID, "withdraw the line instead"},
    {"change line A-0001-B --plants 500", COT_INVALID, "nothing to record"},
    {"change line A-0001-C --plants 400", COT_INVALID, "the check character does not fit"},
    {"change line A-0003-7 --plants 400", COT_NOT_FOUND, "is the code of a batch"},
    {"rule --share fairly", COT_INVALID, "write one of"},
    {"rule --confidence 110%", COT_INVALID, "--confidence"},
};

static const struct bad ordering[] = {
    {"order \"Red Harbour\" --plants 100 --on 2027-05-03", COT_USAGE, "needs 2 words"},
    {"order \"Older Ford\" \"Red Harbour\" --plants 100 --on 2027-05-03", COT_NOT_FOUND, "Older Ford"},
    {"order \"Alder Ford\" \"Red Harbor\" --plants 100 --on 2027-05-03", COT_NOT_FOUND, "Red Harbour"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100", COT_USAGE, "--on DAY"},
    {"order \"Alder Ford\" \"Red Harbour\" --on 2027-05-03", COT_USAGE, "either --plants N or --trays N"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --trays 1 --format 128 --on 2027-05-03", COT_USAGE,
     "either --plants N or --trays N"},
    {"order \"Alder Ford\" \"Red Harbour\" --trays 2 --on 2027-05-03", COT_INVALID, "of which tray format"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants many --on 2027-05-03", COT_INVALID,
     "plants: \"many\" is no number"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants -5 --on 2027-05-03", COT_INVALID, "--plants"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants --on 2027-05-03", COT_USAGE, "--plants needs a value"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on 2027-02-30", COT_INVALID, "--on"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on Monday", COT_INVALID, "2027-03-29"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on 2027-05-03 --late 90", COT_INVALID, "--late"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on 2027-05-03 --late -3", COT_INVALID, "--late"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on 2027-05-03 --early -1", COT_INVALID, "--early"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --least 200 --on 2027-05-03", COT_INVALID, "is more than"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on 2027-05-03 --sub \"Red Harbour\"", COT_INVALID,
     "no substitute for itself"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on 2027-05-03 --sub \"Blue Harbour\"", COT_NOT_FOUND,
     "--sub"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on 2027-05-03 --format 129", COT_NOT_FOUND, "--format"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on 2027-05-03 --closing 2027-05-10", COT_INVALID,
     "lies after"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --plants 200 --on 2027-05-03", COT_USAGE, "given twice"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 100 --on 2027-05-03 --note none", COT_USAGE,
     "leave the option out"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 9 --every day --from 2027-W14 --to 2027-W15", COT_USAGE,
     "only \"week\" is known"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 9 --every week --from 2027-W14", COT_USAGE, "--from and --to"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 9 --every week --from 2027-14 --to 2027-W15", COT_INVALID,
     "such as 2027-W14"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 9 --every week --from 2027-W20 --to 2027-W14", COT_INVALID,
     "before --from"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 9 --every week --from 2027-W14 --to 2027-W53", COT_INVALID,
     "\"2027-W53\" is no week"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 9 --every week --from 2027-W14 --to 2031-W14", COT_TOO_LARGE,
     "at most"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 9 --every week --from 2027-W14 --to 2027-W15 --weekday Mo",
     COT_INVALID, "Mon, Tue"},
    {"order \"Alder Ford\" \"Red Harbour\" --plants 9 --on 2027-05-03 --weekday Mon", COT_USAGE,
     "go with --every week"},
    {"withdraw A-0099-X", COT_INVALID, "look at the tag again"},
    {"withdraw A-0003-7", COT_NOT_FOUND, "is the code of a batch"},
    {"withdraw", COT_USAGE, "usage: cotyl withdraw"},
    {"promise", COT_USAGE, "by its code, or --all"},
    {"promise A-0002-9 --all", COT_USAGE, "not both"},
    {"promise A-0002-9 --farm \"Weir Hill\"", COT_USAGE, "goes with --all"},
    {"promise --all --plants 5", COT_USAGE, "leave out --plants"},
    {"promise A-0002-9 --date 2027-13-01", COT_INVALID, "--date"},
    {"decline A-0099-A", COT_INVALID, "check character"},
};

static const struct bad planning[] = {
    {"trays RH-2601 128", COT_USAGE, "--plants N, or what there is"},
    {"trays RH-2601 --plants 5", COT_USAGE, "needs 2 words"},
    {"trays \"Red Harbour\" 128 --plants 5", COT_NOT_FOUND, "a seed lot is sown, not a variety"},
    {"trays RH-2601 \"128 squire\" --plants 5", COT_NOT_FOUND, "128 square"},
    {"trays RH-2601 128 --plants 0", COT_INVALID, "--plants: 1 or more"},
    {"trays RH-2601 128 --plants -5", COT_INVALID, "--plants"},
    {"trays RH-2601 128 --plants many", COT_INVALID, "--plants"},
    {"trays RH-2601 128 --plants nan", COT_INVALID, "--plants"},
    {"trays RH-2601 128 --plants none", COT_USAGE, "leave the option out"},
    {"trays RH-2601 128 --plants 1.5", COT_INVALID, "--plants"},
    {"trays RH-2601 128 --plants 10000000", COT_TOO_LARGE, "even 100000 trays"},
    {"trays RH-2601 128 --plants 99999999999", COT_INVALID, "--plants"},
    {"trays RH-2601 128 --trays 0", COT_INVALID, "--trays: 1 or more"},
    {"trays RH-2601 128 --trays 3 --seeds 500", COT_USAGE, "either --trays or --seeds"},
    {"trays RH-2601 128 --seeds 5", COT_INVALID, "not enough for one tray of 128 square"},
    {"trays RH-2601 128 --plants 5 --plate \"128 one-hole\" --by-hand", COT_USAGE, "either --plate or --by-hand"},
    {"trays RH-2601 128 --plants 5 --put-right", COT_USAGE, "goes with --plate"},
    {"trays RH-2601 128 --plants 5 --at-least 2", COT_INVALID, "cannot come of 1 seed"},
    {"trays RH-2601 128 --plants 5 --per-cell 31", COT_INVALID, "--per-cell"},
    {"trays RH-2601 128 --plants 5 --confidence 100%", COT_INVALID, "--confidence"},
    {"trays RH-2601 128 --plants 5 --confidence 40%", COT_INVALID, "--confidence"},
    {"trays RH-2601 128 --plants 5 --batches 0", COT_INVALID, "--batches"},
    {"trays RH-2601 128 --plants 5 --batches 2", COT_INVALID, "1 tray cannot be sown on 2 days"},
    {"trays RH-2601 128 --trays 3 --batches 4", COT_INVALID, "--batches 3, or fewer"},
    {"trays RH-2601 128 --plants 5 --batches two", COT_INVALID, "a whole number from 1"},
    {"trays RH-2601 128 --trays 5 --on-to 50", COT_USAGE, "--on-to-trays N"},
    {"trays RH-2601 128 --plants 5 --on-to 50 --on-to-trays 3", COT_USAGE, "--on-to-trays goes with"},
    {"trays RH-2601 128 --seeds 500 --on-to 50", COT_USAGE, "not with --seeds"},
    {"trays RH-2601 128 --plants 5 --on-to 51", COT_NOT_FOUND, "--on-to"},
    {"trays RH-2601 128 --plants 1000000 --on-to 50", COT_TOO_LARGE, "potted on would need more"},
    {"trays RH-2601 128 --plants 5 --on 3.5.2027", COT_INVALID, "--on"},
};

static const struct bad working[] = {
    {"sow RH-2601 \"128 square\"", COT_USAGE, "either --trays N, or --rows N"},
    {"sow RH-2601 --trays 2", COT_USAGE, "from which lot into which tray format"},
    {"sow RH-2699 \"128 square\" --trays 2", COT_NOT_FOUND, "RH-2601"},
    {"sow RH-2601 \"128 squire\" --trays 2", COT_NOT_FOUND, "128 square"},
    {"sow RH-2601 128 --trays 0", COT_USAGE, "1 or more"},
    {"sow RH-2601 128 --trays 2 --rows 3 --shared m", COT_USAGE, "either --trays N, or --rows N"},
    {"sow RH-2601 128 --rows 3", COT_USAGE, "go together"},
    {"sow RH-2601 128 --rows 9 --shared m", COT_INVALID, "has 8 rows"},
    {"sow RH-2601 128 --trays 2 --plate \"128 one-hole\" --by-hand", COT_USAGE, "either --plate or --by-hand"},
    {"sow RH-2601 128 --trays 2 --plate \"129\"", COT_NOT_FOUND, "--plate"},
    {"sow RH-2601 128 --trays 2 --per-cell 2 --at-least 3", COT_INVALID, "cannot come of 2 seeds"},
    {"sow RH-2601 128 --trays 2 --ready 2027-01-01", COT_INVALID, "before the sowing day"},
    {"add planned --lot RH-2601 --format 128 --trays 2 --sow-day 2027-03-08 --ready 2027-03-01", COT_INVALID,
     "lies after"},
    {"pot-on A-0003-7 \"50 round\" --trays 2 --plants 90 --ready 2027-02-01", COT_INVALID,
     "is before the day of potting on"},
    {"sow RH-2601 128 --trays 2 --day yesterday", COT_INVALID, "--day"},
    {"sow RH-2601 128 --trays 2 --bench none", COT_USAGE, "leave the option out"},
    {"count A-0003-7", COT_USAGE, "3:128/118/8/2/1"},
    {"count A-0003-8 3:128/118/8/2/1", COT_INVALID, "the check character does not fit"},
    {"count A-0003 3:128/118/8/2/1", COT_INVALID, "write it with its last character"},
    {"count A-0099-V 3:128/118/8/2/1", COT_NOT_FOUND, "cotyl sync"},
    {"count A-0001-B 3:128/118/8/2/1", COT_NOT_FOUND, "is the code of an order line"},
    {"count A-0003-7 7:128/118/8/2/1", COT_INVALID, "A-0003-7 has 6 trays"},
    {"count A-0003-7 0:128/118/8/2/1", COT_INVALID, "no tray number"},
    {"count A-0003-7 3:129/119/8/2/1", COT_INVALID, "129 cells looked at, but there are only 128"},
    {"count A-0003-7 3:128/119/8/2/1", COT_INVALID, "make 129 cells, but 128 were looked at"},
    {"count A-0003-7 3:128/118/8/2", COT_INVALID, "five figures are wanted, there are fewer"},
    {"count A-0003-7 3:128/118/8/2/1/0", COT_INVALID, "five figures are wanted, there are more"},
    {"count A-0003-7 3:128/118/8/2/x", COT_INVALID, "doubles: \"x\" is no number of cells"},
    {"count A-0003-7 3:128/118/8/-2/1", COT_INVALID, "culls: \"-2\" is no number of cells"},
    {"count A-0003-7 3:128/118/8/2/119", COT_INVALID, "119 doubles are more than the 118 usable"},
    {"count A-0003-7 3:?/118/?/?/?", COT_INVALID, "how many cells were looked at?"},
    {"count A-0003-7 3:128/?/?/2/?", COT_INVALID, "neither usable nor blanks"},
    {"count A-0003-7 3:blank=5", COT_INVALID, "none of looked=, usable=, blanks="},
    {"count A-0003-7 3:blanks=5,blanks=6", COT_INVALID, "twice"},
    {"count A-0003-7 3:blanks=200", COT_INVALID, "make 200 cells"},
    {"count A-0003-7 3-128/118/8/2/1", COT_INVALID, "is no count of a tray"},
    {"count A-0003-7 3:128/118/8/2/1 3:128/120/6/2/1", COT_INVALID, "tray 3 is given twice"},
    {"count A-0003-7 --tray 3 --looked 128 --usable 120 --usable 121", COT_USAGE, "given twice for one tray"},
    {"count A-0003-7 --tray three --looked 128 --usable 120", COT_INVALID, "no tray number"},
    {"count A-0003-7 --tray 3", COT_INVALID, "neither usable nor blanks"},
    {"count A-0003-7 --looked 128 --usable 120 --tray 3 --looked 128 --usable 120", COT_USAGE, "not both"},
    {"count A-0003-7 --trays 9 --looked 128 --usable 120 --blanks 8 --culls 0", COT_INVALID, "A-0003-7 has 6 trays"},
    {"count A-0003-7 --trays 1 --looked 129 --usable 120 --blanks 9 --culls 0", COT_INVALID, "there are only 128"},
    {"count A-0003-7 --blanks 12", COT_USAGE, "in how many trays"},
    {"count A-0004-5 2:48/40/8/0/0", COT_INVALID, "there is no tray 2"},
    {"count A-0004-5 1:49/41/8/0/0", COT_INVALID, "there are only 48"},
    {"lose A-0003-7 --why slugs", COT_USAGE, "--plants N, --trays N or --which"},
    {"lose A-0003-7 --plants 5", COT_USAGE, "--why TEXT"},
    {"lose A-0003-7 --plants 5 --trays 1 --why slugs", COT_USAGE, "goes alone"},
    {"lose A-0003-7 --which 9 --why dropped", COT_INVALID, "there is no tray 9"},
    {"lose A-0003-7 --which 3;x --why dropped", COT_INVALID, "--which"},
    {"pot-on A-0003-7 \"50 round\" --trays 2", COT_USAGE, "--trays N --plants N"},
    {"pot-on A-0003-7 \"50 round\" --trays 2 --plants 101", COT_INVALID, "have 100 cells"},
    {"pot-on A-0003-7 \"60 round\" --trays 2 --plants 90", COT_NOT_FOUND, "60 round"},
    {"patch A-0003-7", COT_USAGE, "--plants N, 1 or more"},
    {"patch A-0003-7 --plants 3 --which 7", COT_INVALID, "A-0003-7 has 6 trays"},
    {"thin A-0003-7 --plants 1.5", COT_INVALID, "--plants"},
    {"move A-0003-7", COT_USAGE, "--bench B"},
    {"move A-0003-7 --bench 4 --which 1,2,9", COT_INVALID, "there is no tray 9"},
    {"hold A-0003-7", COT_USAGE, "--why TEXT"},
    {"hold A-0003-7 --why mildew --until 2027-02-01", COT_INVALID, "before the hold starts"},
    {"release A-0001-B", COT_INVALID, "A-0001-B is not held: nothing was recorded"},
    {"hold A-0001-B", COT_USAGE, "say until when: --until DAY"},
    {"hold A-0001-B --until 2027-03-02", COT_INVALID, "is not after the day it collects"},
    {"hold A-0003-7 --why mildew --ask", COT_USAGE, "--ask is for order lines"},
    {"hand-over A-0001-B A-0003-7", COT_USAGE, "--plants N, --trays N or both"},
    {"hand-over A-0003-7 A-0001-B --plants 5", COT_NOT_FOUND, "is wanted here"},
    {"hand-over A-0001-B A-0003-7 --plants 0", COT_USAGE, "1 or more"},
    {"hand-over A-0001-B A-0003-7 --plants 5 --owed -1", COT_INVALID, "--owed"},
    {"bring-back A-0001-B --plants 5 --why frost", COT_NOT_FOUND, "no hand-over yet"},
    {"bring-back abc --plants 5 --why frost", COT_INVALID, "the first 8 are enough"},
    {"empties \"Alder Ford\"", COT_USAGE, "--trays N"},
    {"empties \"Elder Fork\" --trays 3", COT_NOT_FOUND, "Elder Fork"},
    {"note", COT_USAGE, "usage: cotyl note"},
    {"note \"\"", COT_INVALID, "the note"},
    {"note \"roots round\" --about A-0003-8", COT_INVALID, "check character"},
    {"note \"roots round\" --about A-0003-7 --farm \"Alder Ford\"", COT_USAGE, "either --about or --farm"},
    {"take-back", COT_USAGE, "usage: cotyl take-back"},
    {"take-back A-0003-8", COT_INVALID, "check character"},
    {"take-back zzzzzzzzzz", COT_NOT_FOUND, "nothing recorded here starts with"},
    {"take-back xyz", COT_INVALID, "the first 8 are enough"},
};

static struct cot_fixture f;
static struct cot_id chain;
static int64_t number;

static void check_bad(const struct bad *b)
{
    struct cot_id after;
    int64_t n;
    int code = cot_fixture_run(&f, b->line);
    ck_assert_msg(code == cot_err_row(b->err)->exit_code, "cotyl %s: exit %d, not %d: %s", b->line, code,
                  cot_err_row(b->err)->exit_code, f.err);
    ck_assert_msg(cot_fixture_has(f.err, b->says), "cotyl %s: says\n%sand not \"%s\"", b->line, f.err, b->says);
    ck_assert_msg(f.out[0] == '\0', "cotyl %s: answers %s", b->line, f.out);
    cot_fixture_head(&f, &n, &after);
    ck_assert_msg(n == number && cot_id_cmp(&after, &chain) == 0, "cotyl %s: recorded something", b->line);
}

static void house(void)
{
    cot_fixture_start(&f, COT_PART_MANAGER);
    cot_fixture_play(&f, cot_fixture_house);
    cot_fixture_head(&f, &number, &chain);
    ck_assert_int_gt(number, 0);
}

static void leave(void)
{
    cot_fixture_end(&f);
}

#define CHECK_ALL(table)                                                                                               \
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) check_bad(&table[i])

START_TEST(bad_descriptions)
{
    CHECK_ALL(describing);
}
END_TEST

START_TEST(bad_orders)
{
    CHECK_ALL(ordering);
}
END_TEST

START_TEST(bad_plans)
{
    CHECK_ALL(planning);
}
END_TEST

START_TEST(bad_work)
{
    CHECK_ALL(working);
}
END_TEST

/* Each in its own JSON problem on standard error, with nothing on standard output. */
START_TEST(problems_as_json)
{
    int code = cot_fixture_run(&f, "count A-0003-8 3:128/118/8/2/1 --json");
    ck_assert_int_eq(code, cot_err_row(COT_INVALID)->exit_code);
    ck_assert_ptr_nonnull(strstr(f.err, "urn:cotyledger:problem:invalid"));
    ck_assert_str_eq(f.out, "");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("bad input");
    TCase *c = tcase_create("refused");
    tcase_set_timeout(c, 120);
    tcase_add_unchecked_fixture(c, house, leave);
    tcase_add_test(c, bad_descriptions);
    tcase_add_test(c, bad_orders);
    tcase_add_test(c, bad_plans);
    tcase_add_test(c, bad_work);
    tcase_add_test(c, problems_as_json);
    suite_add_tcase(s, c);
    return s;
}
