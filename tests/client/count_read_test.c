/* Stand-count figures: what is read, what follows, what is refused. */
#include "count_read.h"
#include "main.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define NO COT_COUNT_UNKNOWN

START_TEST(short_forms)
{
    static const struct {
        const char *word;
        int32_t tray, figure[COT_FIGURES];
    } good[] = {
        {"3:72/66/4/2/1", 3, {72, 66, 4, 2, 1}},         {"12:72/?/4/?/?", 12, {72, NO, 4, NO, NO}},
        {"1:?/?/?/?/?", 1, {NO, NO, NO, NO, NO}},        {"3:blanks=5", 3, {NO, NO, 5, NO, NO}},
        {"3:doubles=1,looked=9", 3, {9, NO, NO, NO, 1}}, {"3:culls=?", 3, {NO, NO, NO, NO, NO}},
    };
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        struct cot_tray_count c;
        struct cot_fault fault = {0};
        ck_assert_msg(cot_count_short(good[i].word, &c, &fault) == COT_OK, "%s: %s", good[i].word, fault.msg);
        ck_assert_int_eq(c.tray, good[i].tray);
        for (int k = 0; k < COT_FIGURES; k++) ck_assert_int_eq(*cot_figure(&c, k), good[i].figure[k]);
    }
}
END_TEST

START_TEST(refused_words)
{
    static const char *const bad[] = {"",
                                      ":",
                                      "3",
                                      "3:",
                                      "3:1",
                                      "3:1/2/3/4",
                                      "3:1/2/3/4/5/6",
                                      "3:1/2/3/4/",
                                      "3:/1/2/3/4",
                                      "x:1/2/3/4/5",
                                      "0:1/2/3/4/5",
                                      "-1:1/2/3/4/5",
                                      "3:1/2/3/4/+5",
                                      "3:1/2/3/4/5 ",
                                      "3:1/2/3/4/12345678",
                                      "3:blanks",
                                      "3:blanks=",
                                      "3:blanks=5,",
                                      "3:,blanks=5",
                                      "3:=5",
                                      "3:blanks=5,blanks=5",
                                      "3:Blanks=5",
                                      "3:blanks=5/6",
                                      "99999999:1/2/3/4/5"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct cot_tray_count c;
        struct cot_fault fault = {0};
        ck_assert_msg(cot_count_short(bad[i], &c, &fault) == COT_INVALID, "taken: %s", bad[i]);
        ck_assert_msg(fault.msg[0] && fault.hint[0], "no words for %s", bad[i]);
    }
}
END_TEST

/* figures in, cells of the tray, figures out; {0} out: refused */
static const struct {
    int32_t in[COT_FIGURES];
    int64_t cells;
    int32_t out[COT_FIGURES];
} completing[] = {
    {{72, 66, 4, 2, 1}, 72, {72, 66, 4, 2, 1}},
    {{NO, 66, 4, 2, 1}, 72, {72, 66, 4, 2, 1}},     /* the parts make the whole */
    {{NO, 60, 4, 2, NO}, 72, {66, 60, 4, 2, NO}},   /* a part of the tray looked at */
    {{NO, NO, 5, NO, NO}, 72, {72, NO, 5, NO, NO}}, /* only blanks: the whole tray; usable is not made up */
    {{NO, NO, 5, 2, NO}, 72, {72, 65, 5, 2, NO}},   /* culls taken too: usable follows */
    {{40, NO, 3, NO, NO}, 72, {40, NO, 3, NO, NO}},
    {{40, NO, 3, 1, NO}, 72, {40, 36, 3, 1, NO}},
    {{40, 35, NO, NO, NO}, 72, {40, 35, NO, NO, NO}}, /* blanks and culls are not made up */
    {{40, 35, 3, NO, NO}, 72, {40, 35, 3, NO, NO}},
    {{72, 66, 4, 2, 1}, 0, {72, 66, 4, 2, 1}}, /* cells of the tray not known */
    {{72, 0, 72, 0, 0}, 72, {72, 0, 72, 0, 0}},
    {{73, 67, 4, 2, 1}, 72, {0}},
    {{72, 67, 4, 2, 1}, 72, {0}},
    {{72, 65, 4, 2, 1}, 72, {0}},
    {{72, 70, 4, NO, NO}, 72, {0}},
    {{72, NO, NO, 2, NO}, 72, {0}},
    {{NO, 66, NO, NO, NO}, 72, {0}},
    {{NO, 66, 4, NO, NO}, 72, {0}},
    {{NO, NO, 5, NO, NO}, 0, {0}},
    {{NO, NO, 73, NO, NO}, 72, {0}},
    {{NO, NO, 70, 5, NO}, 72, {0}},
    {{0, 0, 0, 0, 0}, 72, {0}},
    {{NO, 0, 0, 0, NO}, 72, {0}},
    {{72, 66, 4, 2, 67}, 72, {0}},
    {{72, NO, 4, NO, 73}, 72, {0}},
};

START_TEST(completed)
{
    for (size_t i = 0; i < sizeof completing / sizeof completing[0]; i++) {
        struct cot_tray_count c = {.tray = 3};
        struct cot_fault fault = {0};
        for (int k = 0; k < COT_FIGURES; k++) *cot_figure(&c, k) = completing[i].in[k];
        enum cot_err err = cot_count_complete(&c, completing[i].cells, "tray 3", &fault);
        bool refused = completing[i].out[0] == 0;
        ck_assert_msg((err == COT_INVALID) == refused, "row %zu: %s", i, fault.msg);
        if (refused) ck_assert_msg(strstr(fault.msg, "tray 3") != NULL, "row %zu: %s", i, fault.msg);
        for (int k = 0; !refused && k < COT_FIGURES; k++)
            ck_assert_msg(*cot_figure(&c, k) == completing[i].out[k], "row %zu, %s: %d", i, cot_figure_name[k],
                          *cot_figure(&c, k));
    }
}
END_TEST

/* Whatever is accepted passes the check that every entry must pass, and keeps each figure that was given. */
START_TEST(accepted_figures_fit_an_entry)
{
    const char *given = getenv("COT_TEST_SEED");
    unsigned seed = given ? (unsigned)strtoul(given, NULL, 10) : (unsigned)time(NULL);
    int taken = 0;
    printf("seed %u\n", seed);
    srand(seed);
    for (int round = 0; round < 20000; round++) {
        struct cot_tray_count c = {.tray = 1 + rand() % 9}, before;
        char flaw[160];
        for (int k = 0; k < COT_FIGURES; k++) *cot_figure(&c, k) = rand() % 3 == 0 ? NO : rand() % (k < 2 ? 12 : 6);
        before = c;
        if (cot_count_complete(&c, rand() % 2 ? 10 : 0, "it", NULL) != COT_OK) continue;
        struct cot_fact fact = {.kind = COT_K_COUNT, .has_about = true};
        ck_assert(cot_fact_set_int(&fact, COT_F_DAY, 20000) && cot_fact_set_counts(&fact, COT_F_COUNTS, &c, 1));
        ck_assert_msg(cot_fact_check(&fact, flaw), "seed %u: %s", seed, flaw);
        for (int k = 0; k < COT_FIGURES; k++)
            if (*cot_figure(&before, k) != NO) ck_assert_int_eq(*cot_figure(&before, k), *cot_figure(&c, k));
        taken++;
    }
    ck_assert_int_gt(taken, 200);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("count figures");
    TCase *c = tcase_create("read");
    tcase_add_test(c, short_forms);
    tcase_add_test(c, refused_words);
    tcase_add_test(c, completed);
    tcase_add_test(c, accepted_figures_fit_an_entry);
    suite_add_tcase(s, c);
    return s;
}
