/* Two laptops and three buyers against one server, unplugged and plugged in in different orders: one book in the end.
 * And the queue of a shortage, which nobody's clock may move. */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "e2e.h"
#include "main.h"

enum { OFFICE, BENCH, FIRST_BUYER, PEOPLE = 5 };
static struct laptop people[PEOPLE];
static char house[23];
static const char *const farms[] = {"Alder Ford", "Weir Hill", "Brook End"};

static void five_people(void)
{
    e2e_house(&people[OFFICE], house, NULL);
    e2e_must(&people[OFFICE], "add farm \"Weir Hill\"");
    e2e_must(&people[OFFICE], "add farm \"Brook End\"");
    e2e_must(&people[OFFICE], "sync");
    e2e_join(&people[OFFICE], &people[BENCH], "Sorrel --part hand");
    for (int i = 0; i < 3; i++) {
        char line[100];
        snprintf(line, sizeof line, "\"Buyer %d\" --part buyer --farm \"%s\"", i + 1, farms[i]);
        e2e_join(&people[OFFICE], &people[FIRST_BUYER + i], line);
    }
}

/* The code in the last answer's JSON. */
static void code_of(const struct laptop *l, char out[static 17])
{
    const char *at = strstr(l->out, "\"code\":");
    ck_assert_msg(at && sscanf(at + 7, " \"%16[^\"]\"", out) == 1, "no code in %s", l->out);
}

/* What each of them does without a signal, in the round `n`. */
static void work_apart(int n)
{
    char line[300], batch[17];
    for (int i = 0; i < 3; i++) {
        snprintf(line, sizeof line, "order \"Red Harbour\" --plants %d --format 128 --on 2027-04-%02d",
                 300 + 50 * i + n, 5 + i);
        e2e_must(&people[FIRST_BUYER + i], line);
    }
    for (int i = OFFICE; i <= BENCH; i++) {
        snprintf(line, sizeof line, "sow RH-1 128 --trays %d --day 2027-03-01 --json", 3 + n + i);
        e2e_must(&people[i], line);
        code_of(&people[i], batch);
        snprintf(line, sizeof line, "count %s 1:128/%d/8/2/1 2:128/120/%d/0/0 --day 2027-03-15", batch, 118, 8);
        e2e_must(&people[i], line);
        snprintf(line, sizeof line, "lose %s --plants %d --why slugs --day 2027-03-16", batch, 5 + n);
        e2e_must(&people[i], line);
    }
    e2e_must(&people[BENCH], "take-back last");
    e2e_must(&people[OFFICE], "promise --all");
    e2e_must(&people[OFFICE],
             n % 2 ? "change farm \"Alder Ford\" --contact \"the gate by the weir\"" : "note \"cold night\"");
}

/* The buyers' digest is the server's reading of what that buyer may see: the client compares on sync and says so
 * loudly. */
static void buyer_agrees(struct laptop *l)
{
    char mine[100];
    e2e_must(l, "sync");
    ck_assert_str_eq(l->err, "");
    e2e_status_text(l, "book", mine, sizeof mine);
    ck_assert_msg(strstr(e2e_must(l, "fill --json"), mine) != NULL, "the statement is of another book than %s", mine);
    e2e_must(l, "verify");
}

static void plugged_in(const int *order)
{
    struct laptop *staff[] = {&people[OFFICE], &people[BENCH]};
    five_people();
    for (int round = 0; round < 2; round++) {
        work_apart(round);
        for (int i = 0; i < PEOPLE; i++) e2e_must(&people[order[i]], "sync");
    }
    for (int i = 0; i < PEOPLE; i++) e2e_must(&people[i], "sync");
    for (int i = 0; i < 2; i++) e2e_must(staff[i], "sync");
    e2e_same_book(house, staff, 2);
    for (int i = FIRST_BUYER; i < PEOPLE; i++) buyer_agrees(&people[i]);
}

static const int sync_orders[][PEOPLE] = {
    {0, 1, 2, 3, 4}, {4, 3, 2, 1, 0}, {1, 0, 4, 2, 3}, {2, 0, 3, 1, 4}, {3, 1, 0, 4, 2}};

START_TEST(every_order_ends_in_one_book)
{
    plugged_in(sync_orders[_i]);
}
END_TEST

/* The report of a laptop and of the server: the same bytes. */
START_TEST(both_sides_print_the_same)
{
    static const char *const forms[][2] = {{"fill --on 2027-03-20", "text"},
                                           {"fill --on 2027-03-20 --csv", "csv"},
                                           {"fill --on 2027-03-20 --json", "json"}};
    plugged_in(sync_orders[2]);
    for (size_t i = 0; i < 3; i++) {
        char *theirs = NULL;
        ck_assert_int_eq(
            cot_server_command(&e2e_server, &theirs,
                               COT_ARGS("fill", "--house", house, "--on", "2027-03-20", "--form", forms[i][1])),
            0);
        ck_assert_str_eq(e2e_must(&people[OFFICE], forms[i][0]), theirs);
        ck_assert_str_eq(e2e_must(&people[BENCH], forms[i][0]), theirs);
        free(theirs);
    }
}
END_TEST

/* --- Clocks
 * -------------------------------------------------------------------------------------------------------------------
 */

static void set_clock(struct laptop *l, const char *instant)
{
    char path[200];
    snprintf(path, sizeof path, "%s.clock", l->dir);
    if (!instant) {
        e2e_env("COTYLEDGER_DEMO_CLOCK", NULL);
        return;
    }
    FILE *f = fopen(path, "we");
    ck_assert_ptr_nonnull(f);
    fprintf(f, "%s\n", instant);
    fclose(f);
    e2e_env("COTYLEDGER_DEMO_CLOCK", path);
}

/* One command under a clock of its own. */
static void must_at(struct laptop *l, const char *instant, const char *line)
{
    set_clock(l, instant);
    e2e_must(l, line);
    set_clock(l, NULL);
}

static long likely_of(struct laptop *l, const char *farm)
{
    char line[100];
    snprintf(line, sizeof line, "fill --on 2027-03-20 --json --farm \"%s\"", farm);
    const char *at = strstr(e2e_must(l, line), "\"likely\":");
    ck_assert_ptr_nonnull(at);
    return strtol(at + 9, NULL, 10);
}

/* Three farms want 500 each of about 600 plants. They are promised in the order First, Second, Third, by laptops and
 * under clocks that would have it otherwise. */
START_TEST(no_clock_moves_the_queue)
{
    static const char *const ahead = "2029-11-25T08:00:00Z", *const behind = "2023-11-25T08:00:00Z";
    struct laptop other, *staff[] = {&people[OFFICE], &people[BENCH], &other};
    bool wrong = _i == 1;
    five_people();
    e2e_join(&people[OFFICE], &other, "Dunlin --part manager");
    for (int i = 2; i >= 0; i--) { /* ordered the other way round; the last one sets the clock back */
        must_at(&people[FIRST_BUYER + i],
                wrong ? (i == 2   ? behind
                         : i == 0 ? ahead
                                  : NULL)
                      : NULL,
                "order \"Red Harbour\" --plants 500 --format 128 --on 2027-04-05");
        must_at(&people[FIRST_BUYER + i], wrong && i == 2 ? behind : NULL, "sync");
    }
    e2e_must(&people[OFFICE], "sync");
    e2e_must(&other, "sync");
    must_at(&people[BENCH], wrong ? ahead : NULL, "sow RH-1 128 --trays 5 --day 2027-03-01");
    must_at(&people[BENCH], wrong ? ahead : NULL, "sync");
    must_at(&people[OFFICE], wrong ? ahead : NULL, "promise --all --farm \"Alder Ford\"");
    must_at(&people[OFFICE], wrong ? ahead : NULL, "sync");
    must_at(&other, wrong ? behind : NULL, "promise --all --farm \"Weir Hill\"");
    must_at(&other, wrong ? behind : NULL, "sync");
    must_at(&other, wrong ? behind : NULL, "promise --all --farm \"Brook End\"");
    must_at(&other, wrong ? behind : NULL, "sync");
    for (int i = 0; i < 3; i++) e2e_must(staff[i], "sync");
    e2e_same_book(house, staff, 3);
    ck_assert_int_eq(likely_of(&people[OFFICE], farms[0]), 500);
    ck_assert_int_lt(likely_of(&people[OFFICE], farms[1]), 200);
    ck_assert_int_eq(likely_of(&people[OFFICE], farms[2]), 0);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("orders of sync");
    TCase *t = tcase_create("unplugged");
    tcase_set_timeout(t, 600);
    tcase_add_unchecked_fixture(t, e2e_start, e2e_stop);
    tcase_add_loop_test(t, every_order_ends_in_one_book, 0, (int)(sizeof sync_orders / sizeof sync_orders[0]));
    tcase_add_test(t, both_sides_print_the_same);
    suite_add_tcase(s, t);
    t = tcase_create("clocks");
    tcase_set_timeout(t, 600);
    tcase_add_unchecked_fixture(t, e2e_start, e2e_stop);
    tcase_add_loop_test(t, no_clock_moves_the_queue, 0, 2);
    suite_add_tcase(s, t);
    return s;
}
