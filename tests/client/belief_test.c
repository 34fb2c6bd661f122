/* client/show/belief.c: what is said of counts and tests that are hardly believable. */
#include "made.h"
#include "show/belief.h"

#include <jansson.h>
#include <string.h>

static void shows(const char *line, const char *what)
{
    cot_fixture_must(&f, line);
    cot_fixture_says(&f, what);
    for (const char *p = f.out; *p; p += strcspn(p, "\n") + (p[strcspn(p, "\n")] == '\n'))
        ck_assert_msg(strcspn(p, "\n") <= 80, "over 80 columns: %.*s", (int)strcspn(p, "\n"), p);
}

static void shows_not(const char *line, const char *what)
{
    cot_fixture_must(&f, line);
    ck_assert_msg(!cot_fixture_has(f.out, what), "%s says \"%s\":\n%s", line, what, f.out);
}

static json_t *check_of(const char *line)
{
    cot_fixture_must(&f, line);
    json_t *j = json_loads(f.out, 0, NULL);
    ck_assert_msg(j != NULL, "no JSON: %s", f.out);
    json_t *check = json_incref(json_object_get(j, "check"));
    json_decref(j);
    return check;
}

START_TEST(rare_words)
{
    static const struct {
        double chance;
        const char *text;
    } rows[] = {
        {0.025, "1 in 40"},
        {0.0033, "1 in 300"},
        {1 / 3049.0, "1 in 3,000"},
        {1 / 3051.0, "1 in 3,100"},
        {0.3, "1 in 3"},
        {0.49, "1 in 2"},
        {0.5, "more often than not"},
        {1, "more often than not"},
        {1e-6, "1 in a million"},
        {0, "less than 1 in a million"},
        {1e-9, "less than 1 in a million"},
        {1 / 99.4, "1 in 99"},
        {1 / 123456.0, "1 in 120,000"},
        {1 / 999999.0, "1 in a million"},
    };
    char text[COT_RARE_TEXT];
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        ck_assert_str_eq(cot_rare_text(rows[i].chance, text), rows[i].text);
}
END_TEST

START_TEST(nothing_to_say)
{
    shows_not("show A-0003-7", "believable");
    shows_not("show lot RH-2601", "believable");
    ck_assert_ptr_null(check_of("--json show A-0003-7"));
}
END_TEST

START_TEST(alike)
{
    cot_fixture_must(&f, "count A-0003-7 1:128/114/14/0/0 3:128/118/10/0/0 5:128/110/18/0/0 --day 2027-03-01");
    ck_assert_msg(!cot_fixture_has(f.err, "believable"), "%s", f.err);
    shows("show A-0003-7", "Are the counts believable?");
    shows("show A-0003-7", "trays none is unlike the others");
    shows("show A-0003-7", "against its lot 342 of 384 cells usable, about ");
    shows("show A-0003-7", "how batches of this crop differ here is a guess: none was counted before");
    json_t *check = check_of("--json show A-0003-7");
    ck_assert_int_eq(json_integer_value(json_object_get(check, "usable")), 342);
    ck_assert_uint_eq(json_array_size(json_object_get(check, "trays")), 3);
    ck_assert(json_is_false(json_object_get(json_object_get(check, "lot"), "low")));
    json_decref(check);
}
END_TEST

START_TEST(a_tray_unlike)
{
    cot_fixture_must(
        &f, "count A-0003-7 1:128/114/14/0/0 2:128/116/12/0/0 3:128/118/10/0/0 5:128/110/18/0/0 --day 2027-03-01");
    cot_fixture_must(&f, "count A-0003-7 6:128/11/117/0/0 --day 2027-03-01");
    cot_fixture_warns(&f, "tray 6: 11 of 128 usable is hardly believable beside the other trays; look again");
    shows("show A-0003-7", "tray 6 is unlike the others: 11 of 128 usable; so far off by chance: 1 in ");
    json_t *check = check_of("--json show A-0003-7"), *tray = json_array_get(json_object_get(check, "trays"), 4);
    ck_assert_int_eq(json_integer_value(json_object_get(tray, "tray")), 6);
    ck_assert(json_is_true(json_object_get(tray, "unlike")));
    json_decref(check);
    /* A later count of another tray does not tell it again; the slip put right ends it. */
    cot_fixture_must(&f, "count A-0003-7 4:128/115/13/0/0 --day 2027-03-01");
    ck_assert_msg(!cot_fixture_has(f.err, "believable"), "%s", f.err);
    cot_fixture_must(&f, "count A-0003-7 6:128/111/17/0/0 --day 2027-03-01");
    shows("show A-0003-7", "none is unlike the others");
}
END_TEST

START_TEST(a_poor_batch)
{
    cot_fixture_must(&f, "count A-0003-7 1:128/40/88/0/0 3:128/44/84/0/0 5:128/38/90/0/0 --day 2027-03-01");
    cot_fixture_warns(&f, "122 of 384 cells usable, about ");
    cot_fixture_warns(&f, "were to be expected of this lot: can't tell: no other batch to compare");
    shows("show A-0003-7", "so few or fewer by chance: 1 in ");
    shows("show A-0003-7", "where to look can't tell: no other batch to compare");
    /* Another batch of the lot, sown a week later, is as poor. */
    cot_fixture_set_clock(&f, "2027-03-09T08:00:00Z");
    cot_fixture_must(&f, "count A-0005-3 1:128/41/87/0/0 9:128/43/85/0/0 20:128/40/88/0/0 --day 2027-03-09");
    cot_fixture_warns(&f, "points at the seed");
    shows("show A-0003-7", "where to look points at the seed");
    shows("show A-0003-7", "compared with 1 of the lot sown on other days, none of other lots sown that day");
    json_t *check = check_of("--json show A-0003-7");
    ck_assert_str_eq(json_string_value(json_object_get(json_object_get(check, "lot"), "points")), "seed");
    json_decref(check);
}
END_TEST

START_TEST(tests_of_lots)
{
    cot_fixture_must(&f, "add lot RH-9 --variety \"Red Harbour\" --test-seeds 400 --test-germ 382 "
                         "--replicates \"96 94 97 95\" --label-germ 93%");
    shows("show lot RH-9", "Is the test believable?");
    shows("show lot RH-9",
          "replicates 94 to 97 of 100 seeds, 96 % on average: 3 apart, up to 8 will do (7 CFR 201.55)");
    shows("show lot RH-9", "test and label 95.5 % and 93 %: 2.5 apart, up to 6 will do (7 CFR 201.63)");
    cot_fixture_must(&f, "change lot RH-9 --test-germ 370");
    shows("show lot RH-9", "replicates: they make 382 germinated, but the test says 370");
    cot_fixture_must(&f, "change lot RH-9 --test-germ 382");
    cot_fixture_must(&f, "change lot RH-9 --test-germ 340 --replicates \"96 84 70 90\"");
    shows("show lot RH-9", "26 apart, more than 14 (7 CFR 201.55): the test is to be made again");
    shows("show lot RH-9", "test and label 85 % and 93 %: 8 apart, more than 7 (7 CFR 201.63): they disagree");
    shows("show lot RH-9",
          "test and test before 85 % and 95.5 %: 10.5 apart, more than 6 (7 CFR 201.63): they disagree");
    json_t *check = check_of("--json show lot RH-9");
    ck_assert_str_eq(json_string_value(json_object_get(json_object_get(check, "replicates"), "verdict")), "retest");
    ck_assert(json_is_false(json_object_get(json_object_get(check, "label"), "within")));
    json_decref(check);
    cot_fixture_must(&f, "add lot RH-8 --variety \"Red Harbour\" --test-seeds 200 --test-germ 184 "
                         "--replicates \"48 45 50 41\" --label-germ 93%");
    shows("show lot RH-8", "41 to 50 of 50 seeds, 92 % on average: 9 apart; so wide or wider by chance: 1 in 100. ");
    shows("show lot RH-8", "No published table for this shape");
    shows("show lot RH-8", "No published table under 400 seeds");
    ck_assert_int_ne(cot_fixture_run(&f, "add lot RH-7 --variety \"Red Harbour\" --test-seeds 400 --test-germ 382 "
                                         "--replicates \"96 94 97\""),
                     0);
    cot_fixture_warns(&f, "400 seeds tested cannot be split evenly into 3");
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 60);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/belief");
    add(s, "rare", rare_words);
    add(s, "nothing", nothing_to_say);
    add(s, "alike", alike);
    add(s, "unlike", a_tray_unlike);
    add(s, "poor", a_poor_batch);
    add(s, "lots", tests_of_lots);
    return s;
}
