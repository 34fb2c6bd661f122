/* Remedies as people read them, and for scripts. What they say is tested in core/remedy. */
#include "made.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

/* A-0006-1 is short: 3900 plants of some 4000 that two batches have, after 500 for others. */
static void make_more(void)
{
    make_house();
    cot_fixture_must(&made, "order \"Weir Hill\" \"Red Harbour\" --plants 3900 --format 128 --on 2027-04-05");
    cot_fixture_must(&made, "promise A-0006-1");
    cot_fixture_must(&made, "count A-0003-7 3:128/118/7/3/4 5:128/121/5/2/3");
}

START_TEST(in_words)
{
    cot_fixture_must(&f, "change lot RH-2601 --treated yes --stock-seeds 9000");
    cot_fixture_must(&f, "remedies A-0006-1");
    cot_fixture_says(&f, "A-0006-1, Weir Hill: 3900 of Red Harbour in 128 square for 2027-04-05 (W14)");
    cot_fixture_says(&f, " trays of 128 square from lot RH-2601 (Red Harbour). It takes about ");
    cot_fixture_says(&f, " are left.");
    cot_fixture_says(&f, "Then covered: likely 3900 of 3900");
    cot_fixture_says(&f, "By 2027-03-01 (W09); about ");
    cot_fixture_says(&f, "plants of Red Harbour in 128 square: plugs to grow on");
    cot_fixture_says(&f, "From whom is not known here.");
    cot_fixture_says(&f, "a guess: not counted or tested");
    cot_fixture_says(&f, "Caution: treated seed: gloves, wash hands");
    cot_fixture_says(&f, "Caution: mix may carry Legionella: keep it damp");
    cot_fixture_says(&f, "Caution: wet trays are heavy");
    ck_assert_ptr_null(strstr(f.out, "A-0002-9"));
    for (const char *p = f.out; *p; p += strcspn(p, "\n") + 1)
        ck_assert_msg(cot_text_columns(p, strcspn(p, "\n")) <= 80, "%s", p);
}
END_TEST

/* Plants bought in for a line go first to the lines that were promised before it: then these are told of. */
START_TEST(others_before_it)
{
    cot_fixture_must(&f, "order \"Weir Hill\" \"Red Harbour\" --plants 3000 --format 128 --on 2027-04-05");
    cot_fixture_must(&f, "promise A-0007-0");
    cot_fixture_must(&f, "remedies A-0007-0");
    cot_fixture_says(&f, "Buy in 3000 plants of Red Harbour");
    cot_fixture_says(&f, "1 other line would be covered.");
    cot_fixture_must(&f, "remedies A-0006-1");
    cot_fixture_says(&f, "Then covered: likely 3900 of 3900, count on 3900, chance 95 %. By "); /* itself is no other */
}
END_TEST

/* A line not promised: nothing queues for it. */
START_TEST(not_promised)
{
    cot_fixture_must(&f, "remedies --farm \"Weir Hill\"");
    cot_fixture_says(&f, "A-0002-9, Weir Hill: 256 of Kiln Red in 128 square for 2027-04-12 (W15)");
    cot_fixture_says(&f, "not promised yet");
    cot_fixture_says(&f, "Promise it: 256 plants wait for the house's word");
    cot_fixture_says(&f, "promise the line first");
}
END_TEST

/* What a remedy says comes true when it is done by the commands it names. */
START_TEST(released_and_true)
{
    cot_fixture_must(&f, "hold A-0005-3 --why spots");
    cot_fixture_must(&f, "--json remedies A-0006-1");
    json_t *root = json_loads(f.out, JSON_REJECT_DUPLICATES, NULL), *list, *r, *after = NULL;
    ck_assert_ptr_nonnull(root);
    list = json_object_get(json_array_get(json_object_get(root, "lines"), 0), "remedies");
    size_t i;
    json_array_foreach(list, i, r)
    {
        if (strcmp(json_string_value(json_object_get(r, "remedy")), "release") == 0)
            after = json_object_get(r, "after");
    }
    ck_assert_ptr_nonnull(after);
    char want[120];
    snprintf(want, sizeof want, "\"likely\":%lld,\"count_on\":%lld",
             (long long)json_integer_value(json_object_get(after, "likely")),
             (long long)json_integer_value(json_object_get(after, "count_on")));
    json_decref(root);
    cot_fixture_must(&f, "release A-0005-3");
    cot_fixture_must(&f, "--json show A-0006-1");
    ck_assert_msg(strstr(f.out, want) != NULL, "%s in %s", want, f.out);
}
END_TEST

START_TEST(nothing_to_do)
{
    cot_fixture_must(&f, "remedies A-0001-B");
    cot_fixture_says(&f, "A-0001-B, Alder Ford: 500 of Red Harbour in 128 square");
    cot_fixture_says(&f, "covered: likely 500, count on 500, chance");
    cot_fixture_says(&f, "Nothing needs to be done.");
    cot_fixture_must(&f, "remedies --on 2027-06-01");
    cot_fixture_says(&f, "No line is short or in doubt");
}
END_TEST

/* The fill points the way on, beside its report. */
START_TEST(the_fill_names_it)
{
    cot_fixture_must(&f, "fill");
    ck_assert_ptr_nonnull(strstr(f.err, "`cotyl remedies` shows what can be done"));
    ck_assert_ptr_null(strstr(f.out, "remedies"));
    cot_fixture_must(&f, "fill --farm \"Alder Ford\"");
    ck_assert_str_eq(f.err, "");
    cot_fixture_must(&f, "fill --json");
    ck_assert_str_eq(f.err, "");
}
END_TEST

static const struct {
    const char *line;
    enum cot_err err;
    const char *says;
} refusals[] = {
    {"remedies A-0006-1 A-0001-B", COT_USAGE, "does not know what to do with"},
    {"remedies A-0006-1 --farm Alder", COT_USAGE, "either LINE or --farm"},
    {"remedies A-0003-7", COT_NOT_FOUND, "is the code of a batch"},
    {"remedies --farm Nobody", COT_NOT_FOUND, "Nobody"},
    {"remedies --on yesterday", COT_INVALID, "2027-03-29"},
};

START_TEST(refuses)
{
    int rc = cot_fixture_run(&f, refusals[_i].line);
    ck_assert_msg(rc == cot_err_row(refusals[_i].err)->exit_code, "%s: %d %s", refusals[_i].line, rc, f.err);
    ck_assert_msg(cot_fixture_has(f.err, refusals[_i].says), "%s: %s", refusals[_i].line, f.err);
}
END_TEST

START_TEST(a_buyer_has_none)
{
    struct cot_fixture b;
    cot_fixture_start(&b, COT_PART_BUYER);
    ck_assert_int_eq(cot_fixture_run(&b, "remedies"), cot_err_row(COT_NOT_ALLOWED)->exit_code);
    cot_fixture_end(&b);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/remedies");
    TCase *t = tcase_create("remedies");
    tcase_add_unchecked_fixture(t, make_more, leave_house);
    tcase_add_checked_fixture(t, house, leave);
    tcase_set_timeout(t, 120);
    tcase_add_test(t, in_words);
    tcase_add_test(t, others_before_it);
    tcase_add_test(t, not_promised);
    tcase_add_test(t, released_and_true);
    tcase_add_test(t, nothing_to_do);
    tcase_add_test(t, the_fill_names_it);
    tcase_add_test(t, a_buyer_has_none);
    tcase_add_loop_test(t, refuses, 0, (int)(sizeof refusals / sizeof refusals[0]));
    suite_add_tcase(s, t);
    return s;
}
