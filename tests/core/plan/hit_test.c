/* Tests of server/core/plan/hit.c */
#include "cotyledger/core/plan.h"

#include <stdlib.h>

#include "../seed.h"

static struct cot_hit hit(const struct cot_dayset *row, uint32_t rows)
{
    void *space = malloc(cot_hit_bytes(rows));
    struct cot_hit out;
    ck_assert_int_eq(cot_hit_all(row, rows, space, &out, NULL), COT_OK);
    free(space);
    ck_assert_int_eq(cot_dayset_count(&out.chosen), out.count);
    ck_assert(out.bound <= out.count && out.proved == (out.bound == out.count));
    for (uint32_t i = 0; i < rows; i++) sure(cot_dayset_empty(&row[i]) || cot_dayset_meet(&row[i], &out.chosen));
    return out;
}

/* All sets of columns, by how many they are. */
static int fewest(const struct cot_dayset *row, uint32_t rows, int columns)
{
    int best = columns;
    for (uint64_t set = 0; set < UINT64_C(1) << columns; set++) {
        int n = __builtin_popcountll(set);
        bool all = n < best;
        for (uint32_t i = 0; all && i < rows; i++) all = !row[i].word[0] || (row[i].word[0] & set);
        if (all) best = n;
    }
    return best;
}

START_TEST(nothing_to_serve)
{
    struct cot_dayset row[2] = {0};
    ck_assert_int_eq(hit(row, 0).count, 0);
    ck_assert_int_eq(hit(row, 2).count, 0);
    ck_assert(hit(row, 2).proved);
}
END_TEST

START_TEST(against_all_sets)
{
    struct dice r = dice_new("against_all_sets");
    for (int round = 0; round < 1500; round++) {
        struct cot_dayset row[24] = {0};
        int columns = (int)dice_int(&r, 1, 11);
        uint32_t rows = (uint32_t)dice_int(&r, 1, 24);
        for (uint32_t i = 0; i < rows; i++)
            row[i].word[0] = dice_next(&r) & dice_next(&r) & ((UINT64_C(1) << columns) - 1);
        struct cot_hit h = hit(row, rows);
        sure(h.proved && h.count == fewest(row, rows, columns));
    }
}
END_TEST

/* Windows cut from the same working days, against all sets. */
START_TEST(runs_against_all_sets)
{
    struct dice r = dice_new("runs_against_all_sets");
    for (int round = 0; round < 1500; round++) {
        struct cot_dayset row[12] = {0};
        uint64_t works = dice_next(&r) | 1;
        uint32_t rows = (uint32_t)dice_int(&r, 1, 12);
        for (uint32_t i = 0; i < rows; i++) {
            int32_t from = (int32_t)dice_int(&r, 0, 11), to = from + (int32_t)dice_int(&r, 0, 4);
            cot_dayset_range(&row[i], from, to > 11 ? 11 : to);
            row[i].word[0] &= works;
        }
        struct cot_hit h = hit(row, rows);
        sure(h.proved && h.count == fewest(row, rows, 12));
    }
}
END_TEST

/* Where the greedy choice is wrong: it takes the column of four, and needs three. */
START_TEST(better_than_greedy)
{
    struct cot_dayset row[6] = {0};
    for (int i = 0; i < 6; i++) cot_dayset_add(&row[i], i < 3 ? 7 : 90);
    for (int i = 1; i < 5; i++) cot_dayset_add(&row[i], 300);
    struct cot_hit h = hit(row, 6);
    ck_assert_int_eq(h.count, 2);
    ck_assert(h.proved && cot_dayset_have(&h.chosen, 7) && cot_dayset_have(&h.chosen, 90));
}
END_TEST

/* Planted: `need` rows without a common column, so that no fewer do; and so many do. */
START_TEST(planted)
{
    struct dice r = dice_new("planted");
    struct cot_dayset *row = calloc(2000, sizeof *row);
    for (int round = 0; round < 20; round++) {
        int32_t need = (int32_t)dice_int(&r, 2, 12);
        for (int32_t i = 0; i < 2000; i++) {
            row[i] = (struct cot_dayset){0};
            cot_dayset_add(&row[i], 37 * (i < need ? i : (int32_t)dice_int(&r, 0, need - 1)));
            for (int k = 0; i >= need && k < 6; k++) cot_dayset_add(&row[i], (int32_t)dice_int(&r, 0, 36 * need));
        }
        struct cot_hit h = hit(row, 2000);
        sure(h.proved && h.count == need);
    }
    free(row);
}
END_TEST

/* Too much to prove: the bound is still a bound, and what comes out still serves all. */
START_TEST(not_proved)
{
    struct dice r = {7};
    struct cot_dayset *row = calloc(900, sizeof *row);
    for (int i = 0; i < 900; i++)
        for (int k = 0; k < 5; k++) cot_dayset_add(&row[i], (int32_t)dice_int(&r, 0, 199));
    struct cot_hit h = hit(row, 900);
    ck_assert(!h.proved);
    ck_assert_int_lt(h.bound, h.count);
    ck_assert_int_ge(h.bound, 32); /* what 1 / (most rows of a column) gives */
    free(row);
}
END_TEST

START_TEST(too_many)
{
    struct cot_fault f = {0};
    struct cot_hit out;
    ck_assert_int_eq(cot_hit_all(NULL, COT_HIT_ROWS + 1, NULL, &out, &f), COT_INVALID);
    ck_assert_str_ne(f.msg, "");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/plan/hit");
    TCase *t = tcase_create("hit");
    tcase_add_test(t, nothing_to_serve);
    tcase_add_test(t, against_all_sets);
    tcase_add_test(t, runs_against_all_sets);
    tcase_add_test(t, better_than_greedy);
    tcase_add_test(t, planted);
    tcase_add_test(t, not_proved);
    tcase_add_test(t, too_many);
    suite_add_tcase(s, t);
    return s;
}
