/* Tests of server/core/sow/germ.c */
#include "plain.h"

static struct cot_germ germ_of(struct cot_germ_known k)
{
    struct cot_germ g;
    ck_assert_int_eq(cot_germ_of(&k, &g, NULL), COT_OK);
    ck_assert_double_eq_tol(g.a + g.b, g.seeds + 2, 1e-9);
    return g;
}

START_TEST(from_a_test)
{
    struct cot_germ g = germ_of((struct cot_germ_known){
        .test_seeds = 400, .test_germ = 372, .label = 850, .assumed_seeds = 100, .lawful = 800});
    ck_assert(g.basis == COT_GERM_TEST && g.a == 373 && g.b == 29 && g.seeds == 400 && g.germinated == 372);
}
END_TEST

START_TEST(from_a_label)
{
    struct cot_germ g = germ_of((struct cot_germ_known){.label = 850, .assumed_seeds = 100, .lawful = 800});
    ck_assert(g.basis == COT_GERM_LABEL && g.seeds == 100);
    ck_assert_double_eq_tol(g.a, 86, 1e-9);
}
END_TEST

START_TEST(from_the_law)
{
    struct cot_germ g = germ_of((struct cot_germ_known){.label = -1, .lawful = 800});
    ck_assert(g.basis == COT_GERM_LAWFUL && g.seeds == COT_GERM_LAWFUL_SEEDS);
    ck_assert_double_eq_tol(g.b, 11, 1e-9);
}
END_TEST

START_TEST(from_nothing)
{
    struct cot_germ g = germ_of((struct cot_germ_known){.label = -1, .lawful = -1});
    ck_assert(g.basis == COT_GERM_NOTHING && g.a == 1 && g.b == 1 && g.seeds == 0);
}
END_TEST

START_TEST(figures_without_sense)
{
    static const struct cot_germ_known bad[] = {
        {.test_seeds = 400, .test_germ = 401, .label = -1, .lawful = -1},
        {.test_seeds = -1, .label = -1, .lawful = -1},
        {.test_seeds = 10, .test_germ = -1, .label = -1, .lawful = -1},
        {.label = 1001, .assumed_seeds = 100, .lawful = -1},
        {.label = -2, .lawful = -1},
        {.label = 900, .assumed_seeds = 0, .lawful = -1},
        {.label = -1, .lawful = 1001},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct cot_fault fault = {0};
        struct cot_germ g;
        ck_assert_msg(cot_germ_of(&bad[i], &g, &fault) == COT_INVALID, "case %zu", i);
        ck_assert_str_ne(fault.msg, "");
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/sow/germ");
    TCase *c = tcase_create("germ");
    tcase_add_test(c, from_a_test);
    tcase_add_test(c, from_a_label);
    tcase_add_test(c, from_the_law);
    tcase_add_test(c, from_nothing);
    tcase_add_test(c, figures_without_sense);
    suite_add_tcase(s, c);
    return s;
}
