/* Tests of server/core/sow/parts.c */
#include "plain.h"

static int64_t parts_of(const struct cot_sow *s, int64_t wanted, struct cot_sow_parts *p)
{
    struct cot_sow_answer a;
    ck_assert_int_eq(cot_sow_trays(s, wanted, 900, &a, NULL), COT_OK);
    ck_assert_int_eq(cot_sow_parts(s, wanted, 900, a.trays, p, NULL), COT_OK);
    return a.trays;
}

START_TEST(parts_add_up)
{
    struct dice d = dice_new("parts_add_up");
    for (int i = 0; i < 120; i++) {
        struct cot_sow s = any_sow(&d);
        struct cot_sow_parts p;
        int64_t wanted = dice_int(&d, 1, 5000), trays = parts_of(&s, wanted, &p), sum = 0;
        for (int c = 0; c < COT_CAUSE_COUNT; c++) {
            sum += p.part[c];
            if (c != COT_CAUSE_EMERGE || s.spread.shift <= 0) sure(p.part[c] >= -1);
        }
        sure(p.cells == trays * s.tray_cells && p.wanted == wanted && sum == p.cells - wanted);
        /* batches that cannot be even need a little more */
        sure(p.part[COT_CAUSE_WHOLE] < (s.batches == 1 ? 1 : 2) * s.tray_cells);
    }
}
END_TEST

/* By hand: 9.04 % of 1000 / 0.96 cells and so on, to the cell. */
START_TEST(parts_by_hand)
{
    struct cot_sow s = plain_sow(100);
    struct cot_sow_parts p;
    parts_of(&s, 1000, &p);
    double g = 373 / 402.0, r[4] = {1, g, g * 0.95, g * 0.95}, before = 1000;
    int64_t at = 1000;
    for (int i = 0; i < 4; i++) {
        static const int cause[4] = {COT_CAUSE_EMPTY, COT_CAUSE_GERM, COT_CAUSE_UNFIT, COT_CAUSE_LOST};
        double q = 0.91 * r[i] + 0.05 * (1 - (1 - r[i]) * (1 - r[i])), need = 1000 / q / (i == 3 ? 0.99 : 1);
        ck_assert_double_ge(need, before);
        ck_assert_int_eq(p.part[cause[i]], (int64_t)floor(need + 0.5) - at);
        before = need;
        at = (int64_t)floor(need + 0.5);
    }
    ck_assert_int_eq(p.part[COT_CAUSE_EMERGE], 0);
    ck_assert_double_eq_tol(p.share[COT_CAUSE_EMPTY], 0.04, 1e-12);
    ck_assert_double_eq_tol(p.share[COT_CAUSE_GERM], 29 / 402.0, 1e-12);
    ck_assert_double_eq_tol(p.share[COT_CAUSE_UNFIT], 0.05, 1e-12);
    ck_assert_double_eq_tol(p.share[COT_CAUSE_LOST], 0.01, 1e-12);
}
END_TEST

/* A cause that is not there has no part. */
START_TEST(causes_switched_off)
{
    struct cot_sow s = plain_sow(128);
    struct cot_sow_parts p;
    struct cot_drop_known hand = {.by_hand = true, .seeds = 1};
    parts_of(&s, 900, &p);
    ck_assert(p.part[COT_CAUSE_EMPTY] > 0 && p.part[COT_CAUSE_GERM] > 0 && p.part[COT_CAUSE_UNFIT] > 0);
    ck_assert(p.part[COT_CAUSE_LUCK] > 0 && p.part[COT_CAUSE_TRAYS] > 0 && p.part[COT_CAUSE_BATCHES] > 0);
    ck_assert_int_eq(cot_drop_of(&hand, &s.cell.drop, NULL), COT_OK);
    s.fit = 1;
    s.later = 0;
    s.germ_a *= 1e5;
    s.germ_b *= 1e5;
    s.spread.between = s.spread.shift_sd = 0;
    parts_of(&s, 900, &p);
    ck_assert_int_eq(p.part[COT_CAUSE_EMPTY], 0);
    ck_assert_int_eq(p.part[COT_CAUSE_EMERGE], 0);
    ck_assert_int_eq(p.part[COT_CAUSE_UNFIT], 0);
    ck_assert_int_eq(p.part[COT_CAUSE_LOST], 0);
    ck_assert_int_eq(p.part[COT_CAUSE_BATCHES], 0);
    for (int r = 0; r < COT_RHO_POINTS; r++) s.spread.rho_weight[r] = r == 0;
    s.tray_cells = 1; /* a tray of one cell is like no other */
    parts_of(&s, 900, &p);
    ck_assert_int_eq(p.part[COT_CAUSE_WHOLE], 0);
    ck_assert_int_le(p.part[COT_CAUSE_TRAYS], 1);
}
END_TEST

START_TEST(figures_without_sense)
{
    struct cot_sow s = plain_sow(128);
    struct cot_sow_parts p;
    ck_assert_int_eq(cot_sow_parts(&s, 0, 900, 3, &p, NULL), COT_INVALID);
    ck_assert_int_eq(cot_sow_parts(&s, 100, 1000, 3, &p, NULL), COT_INVALID);
    ck_assert_int_eq(cot_sow_parts(&s, 100, 900, 0, &p, NULL), COT_INVALID);
    s.fit = NAN;
    ck_assert_int_eq(cot_sow_parts(&s, 100, 900, 3, &p, NULL), COT_INVALID);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/sow/parts");
    TCase *c = tcase_create("parts");
    tcase_set_timeout(c, 60);
    tcase_add_test(c, parts_add_up);
    tcase_add_test(c, parts_by_hand);
    tcase_add_test(c, causes_switched_off);
    tcase_add_test(c, figures_without_sense);
    suite_add_tcase(s, c);
    return s;
}
