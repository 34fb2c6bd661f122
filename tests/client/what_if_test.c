/* What an order would change before it is promised: asked of the own book, nothing recorded. */
#include "made.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

static void make_more(void)
{
    make_house();
    cot_fixture_must(&made, "order \"Weir Hill\" \"Red Harbour\" --plants 3700 --format 128 --on 2027-04-05");
    cot_fixture_must(&made, "promise A-0006-1");
}

static int64_t entries(void)
{
    int64_t number;
    struct cot_id chain;
    cot_fixture_head(&f, &number, &chain);
    return number;
}

static json_t *asked(const char *line)
{
    char text[300];
    snprintf(text, sizeof text, "--json %s", line);
    cot_fixture_must(&f, text);
    json_t *root = json_loads(f.out, JSON_REJECT_DUPLICATES, NULL);
    ck_assert_msg(root != NULL, "%s: %s", line, f.out);
    ck_assert_str_eq(json_string_value(json_object_get(root, "report")), "what-if");
    return root;
}

static json_t *row(json_t *root, const char *code)
{
    json_t *lines = json_object_get(root, "lines"), *l;
    size_t i;
    json_array_foreach(lines, i, l)
    {
        const char *s = json_string_value(json_object_get(l, "line"));
        if (code ? s && strcmp(s, code) == 0 : !s) return l;
    }
    return NULL;
}

static int64_t figure(json_t *l, const char *when, const char *key)
{
    json_t *v = json_object_get(json_object_get(l, when), key);
    ck_assert_msg(json_is_integer(v), "%s %s", when, key);
    return json_integer_value(v);
}

static const char *verdict(json_t *l, const char *when)
{
    return json_string_value(json_object_get(json_object_get(l, when), "verdict"));
}

/* A new line queues last: it gets what is left, and nobody loses. */
START_TEST(a_new_line)
{
    int64_t before = entries();
    cot_fixture_must(&f, "what-if \"Alder Ford\" \"Red Harbour\" --plants 5000 --on 2027-04-05 --format 128");
    cot_fixture_says(&f, "What if Alder Ford ordered 5000 plants of Red Harbour in 128 square, to collect 2027-04-05?");
    cot_fixture_says(&f, "(new line) Alder Ford Red Harbour, 128 square 2027-04-05 then short 5000 0 0 0 %");
    cot_fixture_says(&f, "No other line would be worse off.");
    cot_fixture_says(&f, "Nothing is recorded, and nothing is promised by this.");
    ck_assert_int_eq(entries(), before);
    json_t *root = asked("what-if \"Alder Ford\" \"Red Harbour\" --trays 2 --on 2027-04-05 --format 128");
    json_t *l = row(root, NULL);
    ck_assert_ptr_nonnull(l);
    ck_assert(json_is_true(json_object_get(l, "changed")));
    ck_assert(json_is_null(json_object_get(l, "before")));
    ck_assert_int_eq(figure(l, "after", "wanted"), 256);
    ck_assert_int_eq(figure(l, "after", "promised"), 256);
    ck_assert_uint_eq(json_array_size(json_object_get(root, "lines")), 1);
    ck_assert_int_eq(json_integer_value(json_object_get(root, "harmed")), 0);
    json_decref(root);
    ck_assert_int_eq(entries(), before);
}
END_TEST

/* Weir Hill's 3700 stand behind Alder Ford's 500: what those give up, these get. */
START_TEST(a_line_withdrawn)
{
    json_t *root = asked("what-if A-0001-B --withdrawn"), *own = row(root, "A-0001-B"), *other = row(root, "A-0006-1");
    ck_assert_ptr_nonnull(own);
    ck_assert(json_is_null(json_object_get(own, "after")));
    ck_assert_ptr_nonnull(other);
    ck_assert_int_gt(figure(other, "after", "count_on"), figure(other, "before", "count_on"));
    ck_assert(json_is_false(json_object_get(other, "changed")));
    json_decref(root);
    cot_fixture_must(&f, "what-if A-0001-B --withdrawn");
    cot_fixture_says(&f, "What if A-0001-B were withdrawn?");
    cot_fixture_says(&f, "then nothing more is wanted");
    cot_fixture_must(&f, "orders");
    ck_assert_ptr_nonnull(strstr(f.out, "500  promised"));
}
END_TEST

START_TEST(more_plants_and_another_day)
{
    json_t *root = asked("what-if A-0006-1 --plants 6000"), *l = row(root, "A-0006-1");
    ck_assert_int_eq(figure(l, "before", "wanted"), 3700);
    ck_assert_int_eq(figure(l, "after", "wanted"), 6000);
    ck_assert_str_eq(verdict(l, "after"), "short");
    json_decref(root);
    root = asked("what-if A-0001-B --on 2027-03-01");
    l = row(root, "A-0001-B"); /* nothing is ready by then */
    ck_assert_str_eq(verdict(l, "before"), "covered");
    ck_assert_str_eq(verdict(l, "after"), "short");
    ck_assert_int_eq(figure(l, "after", "likely"), 0);
    ck_assert_int_eq(json_integer_value(json_object_get(root, "harmed")), 0); /* it asked for that itself */
    json_decref(root);
    cot_fixture_must(&f, "what-if A-0001-B --on 2027-03-01");
    cot_fixture_says(&f, "then short 500 0 0 0 %");
}
END_TEST

/* The answer is what the fill says once the same has been recorded and promised. */
START_TEST(it_comes_true)
{
    json_t *root = asked("what-if Weir \"Red Harbour\" --plants 900 --on 2027-04-06 --late 4 --least 300 --sub Pale");
    json_t *l = row(root, NULL);
    int64_t likely = figure(l, "after", "likely"), count_on = figure(l, "after", "count_on");
    char want[80];
    json_decref(root);
    cot_fixture_must(&f, "order Weir \"Red Harbour\" --plants 900 --on 2027-04-06 --late 4 --least 300 --sub Pale");
    cot_fixture_must(&f, "promise A-0007-0");
    cot_fixture_must(&f, "--json show A-0007-0");
    snprintf(want, sizeof want, "\"likely\":%lld,\"count_on\":%lld", (long long)likely, (long long)count_on);
    ck_assert_msg(strstr(f.out, want) != NULL, "%s in %s", want, f.out);
}
END_TEST

static const struct {
    const char *line;
    enum cot_err err;
    const char *says;
} refusals[] = {
    {"what-if", COT_USAGE, "at least 1 word"},
    {"what-if \"Red Harbour\" --plants 5 --on 2027-04-05", COT_USAGE, "name the farm and the variety"},
    {"what-if Alder \"Red Harbour\" --plants 5", COT_USAGE, "say how much and when"},
    {"what-if Alder \"Red Harbour\" --on 2027-04-05", COT_USAGE, "say how much and when"},
    {"what-if Alder \"Red Harbour\" --on 2027-04-05 --plants 5 --trays 1", COT_USAGE, "either --plants N or --trays N"},
    {"what-if Alder \"Red Harbour\" --on 2027-04-05 --trays 1", COT_INVALID, "tray"},
    {"what-if Alder \"Red Harbour\" --on 2027-04-05 --plants 0", COT_INVALID, "an order of nothing"},
    {"what-if Alder \"Red Harbour\" --on 5.4.2027 --plants 5", COT_INVALID, "2027-03-29"},
    {"what-if Alder \"Red Harbour\" --on 2027-04-05 --plants 5 --least 9", COT_INVALID, "least"},
    {"what-if Alder \"Red Harbour\" --on 2027-04-05 --plants 5 --late 99", COT_INVALID, "late"},
    {"what-if Nobody \"Red Harbour\" --on 2027-04-05 --plants 5", COT_NOT_FOUND, "Nobody"},
    {"what-if Alder Nothing --on 2027-04-05 --plants 5", COT_NOT_FOUND, "Nothing"},
    {"what-if Alder \"Red Harbour\" --on 2027-04-05 --plants 5 --withdrawn", COT_USAGE, "by its code"},
    {"what-if A-0001-B", COT_USAGE, "say what would change"},
    {"what-if A-0001-B --withdrawn --plants 4", COT_USAGE, "stands alone"},
    {"what-if A-0001-C --withdrawn", COT_INVALID, "the check character does not fit"},
    {"what-if A-0003-7 --withdrawn", COT_NOT_FOUND, "is the code of a batch"},
};

START_TEST(refuses)
{
    int rc = cot_fixture_run(&f, refusals[_i].line);
    ck_assert_msg(rc == cot_err_row(refusals[_i].err)->exit_code, "%s: %d %s", refusals[_i].line, rc, f.err);
    ck_assert_msg(cot_fixture_has(f.err, refusals[_i].says), "%s: %s", refusals[_i].line, f.err);
    ck_assert_str_eq(f.out, "");
}
END_TEST

/* A tray ordered means its cells, or the plants the house says it means. */
START_TEST(trays_by_the_houses_rule)
{
    cot_fixture_must(&f, "change format 128 --tray-plants 120");
    json_t *root = asked("what-if Alder \"Red Harbour\" --trays 3 --on 2027-04-05 --format 128");
    ck_assert_int_eq(figure(row(root, NULL), "after", "wanted"), 384);
    json_decref(root);
    cot_fixture_must(&f, "order Alder \"Red Harbour\" --trays 3 --on 2027-04-05 --format 128");
    cot_fixture_must(&f, "promise A-0007-0"); /* promised in full is what the fill wants */
    cot_fixture_must(&f, "orders --waiting");
    ck_assert_ptr_null(strstr(f.out, "A-0007-0"));
    cot_fixture_must(&f, "--json show A-0007-0");
    ck_assert_ptr_nonnull(strstr(f.out, "\"wanted\":384,\"promised\":384"));
}
END_TEST

START_TEST(a_buyer_needs_the_house)
{
    struct cot_fixture b;
    cot_fixture_start(&b, COT_PART_BUYER);
    int rc = cot_fixture_run(&b, "what-if Nothing --plants 5 --on 2027-04-05");
    ck_assert_int_eq(rc, cot_err_row(COT_NOT_FOUND)->exit_code);
    cot_fixture_end(&b);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/what_if");
    TCase *t = tcase_create("asking");
    tcase_add_unchecked_fixture(t, make_more, leave_house);
    tcase_add_checked_fixture(t, house, leave);
    tcase_set_timeout(t, 120);
    tcase_add_test(t, a_new_line);
    tcase_add_test(t, a_line_withdrawn);
    tcase_add_test(t, more_plants_and_another_day);
    tcase_add_test(t, it_comes_true);
    tcase_add_test(t, trays_by_the_houses_rule);
    tcase_add_test(t, a_buyer_needs_the_house);
    tcase_add_loop_test(t, refuses, 0, (int)(sizeof refusals / sizeof refusals[0]));
    suite_add_tcase(s, t);
    return s;
}
