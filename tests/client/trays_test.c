/* How many trays to sow: what is said, in words and for programs, and that nothing is recorded. */
#include "made.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

static void says_not(const char *what)
{
    ck_assert_msg(!cot_fixture_has(f.out, what), "says \"%s\":\n%s", what, f.out);
}

/* No line is wider than the page. */
static void fits(void)
{
    for (const char *p = f.out; *p; p += strcspn(p, "\n") + (p[strcspn(p, "\n")] == '\n'))
        ck_assert_msg(strcspn(p, "\n") <= 80, "over 80 columns: %.*s", (int)strcspn(p, "\n"), p);
}

static json_t *answer(const char *line)
{
    cot_fixture_must(&f, line);
    json_t *j = json_loads(f.out, 0, NULL);
    ck_assert_msg(j != NULL, "no JSON: %s", f.out);
    return j;
}

static long whole(const json_t *j, const char *key)
{
    const json_t *v = json_object_get(j, key);
    ck_assert_msg(json_is_integer(v), "%s is no number", key);
    return (long)json_integer_value(v);
}

START_TEST(trays_for_plants)
{
    int64_t before, after;
    struct cot_id chain;
    cot_fixture_head(&f, &before, &chain);
    cot_fixture_must(&f, "trays RH-2601 128 --plants 500 --plate \"128 one-hole\"");
    says("Sow 6 trays of 128 square for 500 plants, 9 in 10: Red Harbour, lot RH-2601, by plate 128 one-hole.");
    says("one fewer to sow one more");
    says("trays 5 6 7");
    says("cells 640 768 896");
    says("count on, plants, 9 in 10 488 587 686");
    says("Why 768 cells for 500 plants:");
    says("39 7.2 % of the seeds do not germinate");
    says("268 in all, 54 % more than wanted");
    says("of 1000 drops 10 leave no seed and 10 leave two, as for pelleted seed; common practice, no source");
    says("none of this crop was counted here yet");
    says_not("emergence: as many as in the test"); /* the crop has its own */
    says_not("Caution");
    fits();
    cot_fixture_head(&f, &after, &chain);
    ck_assert_int_eq(before, after);
}
END_TEST

/* The parts in words are the parts in figures, and add up. */
START_TEST(allowance_adds_up)
{
    static const char *const lines[] = {
        "trays RH-2601 128 --plants 500 --plate \"128 one-hole\" --json",
        "trays KR-2601 50 --plants 33 --by-hand --confidence 99% --json",
        "trays TR-2601 128 --plants 1200 --per-cell 8 --at-least 5 --by-hand --batches 3 --json",
    };
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        json_t *j = answer(lines[i]), *parts = json_object_get(j, "allowance");
        long sum = 0;
        ck_assert_uint_eq(json_array_size(parts), 9);
        for (size_t k = 0; k < json_array_size(parts); k++) sum += whole(json_array_get(parts, k), "cells");
        ck_assert_int_eq(sum, whole(j, "cells") - whole(j, "wanted"));
        ck_assert_int_ge(whole(j, "count_on"), whole(j, "wanted"));
        ck_assert_int_lt(whole(json_object_get(j, "one_fewer"), "count_on"), whole(j, "wanted"));
        ck_assert_double_ge(json_number_value(json_object_get(j, "chance")),
                            json_number_value(json_object_get(j, "confidence")) - 0.0005);
        json_decref(j);
    }
}
END_TEST

START_TEST(promise_of_trays)
{
    json_t *j = answer("trays RH-2601 128 --trays 4 --by-hand --json");
    long count_on = whole(j, "count_on");
    ck_assert(json_is_null(json_object_get(j, "wanted")) && json_is_null(json_object_get(j, "chance")));
    ck_assert(json_object_get(j, "allowance") == NULL);
    json_decref(j);
    char line[120];
    snprintf(line, sizeof line, "trays RH-2601 128 --plants %ld --by-hand --json", count_on);
    j = answer(line);
    ck_assert_int_eq(whole(j, "trays"), 4);
    json_decref(j);
    snprintf(line, sizeof line, "trays RH-2601 128 --trays 4 --plants %ld --by-hand", count_on + 1);
    cot_fixture_must(&f, line);
    says("plants cannot be counted on");
    says("by hand: exactly 1 seed in every cell");
    fits();
}
END_TEST

START_TEST(promise_of_seeds)
{
    cot_fixture_must(&f, "trays KR-2601 128 --seeds 1000 --by-hand");
    says("Of 7 trays of 128 square count on");
    says("Seeds: about 896 of the 1000.");
    says("germination: the label's 90.0 %, as if from 100 seeds tested");
    says("emergence: as many as in the test");
}
END_TEST

START_TEST(several_in_a_cell)
{
    cot_fixture_must(&f,
                     "trays TR-2601 128 --plants 400 --per-cell 8 --at-least 5 --plate \"98 one-hole\" --put-right");
    says("for 400 usable cells");
    says("misses put right, 8 seeds a cell, usable with 5 plants or more");
    says("Look out: lot TR-2601 was to be used by 2027-01-31");
    says("Look out: plate 98 one-hole fills 98 cells at a drop");
    says("Caution: treated seed: gloves");
    says_not("no seed from the seeder");
    fits();
}
END_TEST

/* What the house found of its plate and its crop is no assumption any more. */
START_TEST(what_is_known)
{
    cot_fixture_must(&f, "change plate \"128 one-hole\" --misses 3% --twos 2%");
    cot_fixture_must(&f, "change crop Lettuce --later-loss 3%");
    cot_fixture_must(&f, "change lot RH-2601 --stock-seeds 700");
    cot_fixture_must(&f, "trays RH-2601 128 --plants 500 --plate \"128 one-hole\"");
    says("3.0 % of the cells get no seed from the seeder");
    says("3.0 % are lost between stand count and collecting");
    says_not("seeder: of 1000 drops");
    says_not("later losses");
    says("about 700 are left of the lot");
    says("Look out: only about 700 seeds of lot RH-2601 are left");
}
END_TEST

START_TEST(two_stages)
{
    cot_fixture_must(&f, "trays KR-2601 128 --plants 90 --by-hand --on-to 50");
    says("Sow 2 trays of 128 square, potted on into 2 trays of 50 round for 90 plants");
    says("No other pair that is as sure takes fewer trays in all.");
    says("potting on: about 98 of 100 take");
    fits();
    json_t *j = answer("trays KR-2601 128 --by-hand --on-to 50 --trays 2 --on-to-trays 2 --json");
    ck_assert_int_ge(whole(j, "count_on"), 90);
    ck_assert_int_ge(whole(j, "to_pot_on_likely"), whole(j, "to_pot_on_count_on"));
    json_decref(j);
}
END_TEST

START_TEST(several_days)
{
    json_t *one = answer("trays RH-2601 128 --plants 20000 --by-hand --json");
    json_t *many = answer("trays RH-2601 128 --plants 20000 --by-hand --batches 6 --json");
    ck_assert_int_lt(whole(many, "trays"), whole(one, "trays"));
    json_decref(one);
    json_decref(many);
    cot_fixture_must(&f, "trays RH-2601 128 --plants 20000 --by-hand --batches 6");
    says("sown on 6 days");
}
END_TEST

/* What the house has counted of the crop takes the place of the assumption. */
START_TEST(learned_of_the_house)
{
    cot_fixture_set_clock(&f, "2027-03-12T08:00:00Z");
    json_t *before = answer("trays RH-2601 128 --plants 2000 --by-hand --json");
    ck_assert_int_eq(whole(before, "learned_from_batches"), 0);
    cot_fixture_must(&f, "count A-0003-7 1:128/121/5/2/0 2:128/123/4/1/0 3:128/120/6/2/0 4:128/122/4/2/0");
    cot_fixture_must(&f, "count A-0005-3 1:128/122/4/2/0 2:128/121/5/2/0 3:128/123/4/1/0 9:128/122/5/1/0");
    json_t *after = answer("trays RH-2601 128 --plants 2000 --by-hand --json");
    ck_assert_int_ge(whole(after, "learned_from_batches"), 1);
    ck_assert_int_lt(whole(after, "trays"), whole(before, "trays"));
    json_decref(before);
    json_decref(after);
    cot_fixture_must(&f, "trays RH-2601 128 --plants 2000 --by-hand");
    says("of this crop did in this house");
    says_not("none of this crop was counted here yet");
}
END_TEST

/* Every key is on the page. */
static void on_page(const char *page, const json_t *object)
{
    const char *key;
    json_t *value;
    char marked[60];
    json_object_foreach((json_t *)object, key, value)
    {
        snprintf(marked, sizeof marked, "`%s`", key);
        ck_assert_msg(strstr(page, marked) != NULL, "docs/reports.md does not name %s", marked);
        if (json_is_array(value))
            for (size_t i = 0; i < json_array_size(value); i++) on_page(page, json_array_get(value, i));
        if (json_is_object(value)) on_page(page, value);
    }
}

/* No tray is sure to have a plant, however many there are: only what cannot be is certain. */
START_TEST(certain_only_where_it_is)
{
    json_t *sure = answer("trays RH-2601 128 --trays 20 --plants 4 --json");
    ck_assert_double_eq(json_real_value(json_object_get(sure, "chance")), 0.999);
    json_decref(sure);
    cot_fixture_must(&f, "trays RH-2601 128 --trays 20 --plants 4");
    says("chance of 4 plants or more over 99 %");
    cot_fixture_must(&f, "trays RH-2601 128 --trays 4 --plants 510"); /* of 512 cells */
    says("chance of 510 plants or more under 1 %");
    cot_fixture_must(&f, "trays RH-2601 128 --trays 4 --plants 513");
    says("chance of 513 plants or more 0 %");
    cot_fixture_must(&f, "trays RH-2601 128 --trays 4 --on-to 50 --on-to-trays 9 --plants 3");
    says("chance of 3 plants or more over 99 %");
    cot_fixture_must(&f, "trays RH-2601 128 --trays 20 --plants 4 --json");
    says_not("-0.000");
}
END_TEST

START_TEST(keys_are_on_the_page)
{
    static char text[200000];
    FILE *page = fopen(COT_TESTS_DIR "/../docs/reports.md", "r");
    ck_assert_ptr_nonnull(page);
    text[fread(text, 1, sizeof text - 1, page)] = '\0';
    fclose(page);
    const char *section = strstr(text, "### trays as JSON");
    ck_assert_ptr_nonnull(section);
    json_t *one = answer("trays RH-2601 128 --plants 500 --plate \"128 one-hole\" --json");
    json_t *two = answer("trays KR-2601 128 --plants 90 --by-hand --on-to 50 --json");
    on_page(section, one);
    on_page(section, two);
    json_decref(one);
    json_decref(two);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("trays");
    TCase *c = tcase_create("trays");
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_set_timeout(c, 60);
    tcase_add_test(c, trays_for_plants);
    tcase_add_test(c, allowance_adds_up);
    tcase_add_test(c, promise_of_trays);
    tcase_add_test(c, promise_of_seeds);
    tcase_add_test(c, several_in_a_cell);
    tcase_add_test(c, what_is_known);
    tcase_add_test(c, two_stages);
    tcase_add_test(c, several_days);
    tcase_add_test(c, learned_of_the_house);
    tcase_add_test(c, certain_only_where_it_is);
    tcase_add_test(c, keys_are_on_the_page);
    suite_add_tcase(s, c);
    return s;
}
