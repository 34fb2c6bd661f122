/* Tests of server/core/plan/share.c */
#include "cotyledger/core/plan.h"

#include "../seed.h"

START_TEST(rows_of_a_tray)
{
    const int64_t rows[] = {3, 7, 5, 5, 10};
    uint32_t tray[5], trays, bound;
    ck_assert_int_eq(cot_share_rows(rows, 5, 10, tray, &trays, &bound, NULL), COT_OK);
    ck_assert_uint_eq(trays, 3);
    ck_assert_uint_eq(bound, 3);
    ck_assert_uint_eq(tray[0], tray[1]);
    ck_assert_uint_eq(tray[2], tray[3]);
    ck_assert_uint_eq(tray[4], 0);
    ck_assert_int_eq(cot_share_rows(rows, 0, 10, tray, &trays, &bound, NULL), COT_OK);
    ck_assert_uint_eq(trays, 0);
}
END_TEST

/* Fewest trays by trying every tray for each batch in turn. */
static uint32_t exhaustive(const int64_t *rows, uint32_t n, int64_t tray_rows, int64_t *left, uint32_t used,
                           uint32_t best)
{
    if (used >= best) return best;
    if (n == 0) return used;
    for (uint32_t t = 0; t <= used; t++) {
        if (t == used) left[t] = tray_rows;
        if (left[t] < rows[0]) continue;
        left[t] -= rows[0];
        best = exhaustive(rows + 1, n - 1, tray_rows, left, used + (t == used), best);
        left[t] += rows[0];
    }
    return best;
}

START_TEST(against_all_ways)
{
    struct dice r = dice_new("against_all_ways");
    for (int round = 0; round < 400; round++) {
        int64_t rows[9], left[10], full[10] = {0}, tray_rows = dice_int(&r, 1, 20);
        uint32_t tray[9], trays, bound, n = (uint32_t)dice_int(&r, 1, 9);
        for (uint32_t i = 0; i < n; i++) rows[i] = dice_int(&r, 1, tray_rows);
        sure(cot_share_rows(rows, n, tray_rows, tray, &trays, &bound, NULL) == COT_OK);
        uint32_t best = exhaustive(rows, n, tray_rows, left, 0, n + 1);
        sure(bound <= best && best <= trays && 9 * trays <= 11 * best + 6);
        for (uint32_t i = 0; i < n; i++) sure(tray[i] < trays && (full[tray[i]] += rows[i]) <= tray_rows);
    }
}
END_TEST

START_TEST(out_of_range)
{
    const int64_t rows[] = {3, 0};
    uint32_t tray[2], trays, bound;
    struct cot_fault f = {0};
    ck_assert_int_eq(cot_share_rows(rows, 2, 10, tray, &trays, &bound, &f), COT_INVALID);
    ck_assert_int_eq(cot_share_rows(rows, 1, 2, tray, &trays, &bound, &f), COT_INVALID);
    ck_assert_int_eq(cot_share_rows(rows, 1, 0, tray, &trays, &bound, &f), COT_INVALID);
    ck_assert_int_eq(cot_share_rows(rows, 1, 201, tray, &trays, &bound, &f), COT_INVALID);
    ck_assert_int_eq(cot_share_rows(rows, COT_SHARE_MOST + 1, 10, tray, &trays, &bound, &f), COT_INVALID);
    ck_assert_str_ne(f.msg, "");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/plan/share");
    TCase *t = tcase_create("share");
    tcase_add_test(t, rows_of_a_tray);
    tcase_add_test(t, against_all_ways);
    tcase_add_test(t, out_of_range);
    suite_add_tcase(s, t);
    return s;
}
