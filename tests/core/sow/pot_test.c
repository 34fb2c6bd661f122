/* Tests of server/core/sow/pot.c */
#include "plain.h"

static struct cot_pot_on plain_pot(int64_t tray_cells)
{
    return (struct cot_pot_on){
        .take_a = COT_TAKE_A, .take_b = COT_TAKE_B, .tray_cells = tray_cells, .plug_room = 1, .room = 1};
}

static double chance_of(const struct cot_sow *s, int64_t plug_trays, const struct cot_pot_on *to, int64_t trays,
                        int64_t wanted)
{
    struct cot_pot_answer a;
    ck_assert_int_eq(cot_pot_promise(s, plug_trays, to, trays, wanted, 900, &a, NULL), COT_OK);
    return a.chance;
}

/* Every number of plugs and every number that takes, one by one. */
static double all_ways(const struct cot_mix_part *p, int64_t plug_cells, const struct cot_mix_part *t, int64_t cells,
                       int64_t wanted)
{
    double sum = 0;
    for (int64_t n = wanted; n <= plug_cells; n++) {
        int64_t potted = n < cells ? n : cells;
        double enough = cot_betabinom_ge(potted, t->a, t->b, wanted);
        sum += p->weight * cot_betabinom_pmf(plug_cells, p->a, p->b, n) * enough;
    }
    return sum;
}

START_TEST(against_all_that_may_happen)
{
    struct dice d = dice_new("against_all_that_may_happen");
    for (int i = 0; i < 40; i++) {
        struct cot_sow s = any_sow(&d), first = s;
        struct cot_pot_on to = plain_pot(dice_int(&d, 4, 40));
        struct cot_plants plug;
        struct cot_odds share;
        struct cot_sow_moments m;
        struct cot_plants take;
        s.tray_cells = first.tray_cells = dice_int(&d, 10, 60);
        int64_t plug_trays = dice_int(&d, 1, 4), trays = dice_int(&d, 1, 6), cells = trays * to.tray_cells;
        int64_t wanted = dice_int(&d, 1, cells);
        first.later = 0;
        ck_assert_int_eq(cot_sow_plants(&first, plug_trays, &plug, NULL), COT_OK);
        cot_odds_of_seed(to.take_a, to.take_b, 1, &share);
        cot_slices_of(&share, 0, NULL, s.later, 6, &m);
        cot_plants_of(&m, s.spread.rho_weight, cells, to.tray_cells, (double)(cells * cells), &take);
        double want = 0, group[COT_SOW_GROUPS] = {0};
        for (int t = 0; t < COT_SOW_PARTS; t++) group[t % COT_SOW_GROUPS] += take.part[t].weight;
        for (int j = 0; j < COT_SOW_PARTS; j++)
            for (int t = j % COT_SOW_GROUPS; t < 6 * COT_SOW_GROUPS; t += COT_SOW_GROUPS)
                want += all_ways(&plug.part[j], plug.cells, &take.part[t], cells, wanted) * take.part[t].weight /
                        group[j % COT_SOW_GROUPS];
        double got = chance_of(&s, plug_trays, &to, trays, wanted);
        if (fabs(got - want) > 2e-9) ck_abort_msg("chance %.12f, all that may happen %.12f", got, want);
    }
}
END_TEST

/* Every pair of trays up to more than the answer's bench. */
START_TEST(least_bench_by_brute_force)
{
    struct dice d = dice_new("least_bench_by_brute_force");
    for (int i = 0; i < 8; i++) {
        struct cot_sow s = plain_sow(dice_int(&d, 40, 128));
        struct cot_pot_on to = plain_pot(dice_int(&d, 10, 40));
        struct cot_pot_answer got;
        to.room = i % 2 == 0 ? 1 : 0.5 + 2 * dice_real(&d);
        int64_t wanted = dice_int(&d, 10, 400);
        ck_assert_int_eq(cot_pot_trays(&s, &to, wanted, 900, &got, NULL), COT_OK);
        double bench = (double)got.plug_trays * to.plug_room + (double)got.trays * to.room;
        sure(got.chance >= 0.9 && chance_of(&s, got.plug_trays, &to, got.trays, wanted) == got.chance);
        for (int64_t n = 1; (double)n * to.room < bench; n++)
            for (int64_t m = 1; (double)m * to.plug_room + (double)n * to.room < bench - 1e-9; m++)
                if (chance_of(&s, m, &to, n, wanted) >= 0.9)
                    ck_abort_msg("%d plug trays and %d trays would do, not %d and %d", (int)m, (int)n,
                                 (int)got.plug_trays, (int)got.trays);
    }
}
END_TEST

/* Spread over more trays the plants are less alike: worse for what is unlikely, so only likely pairs are held to it. */
START_TEST(more_of_either_is_no_worse)
{
    struct cot_sow s = plain_sow(128);
    struct cot_pot_on to = plain_pot(32);
    for (int64_t n = 14; n < 22; n++)
        for (int64_t m = 4; m < 9; m++) {
            double here = chance_of(&s, m, &to, n, 450), more = chance_of(&s, m + 1, &to, n, 450);
            double larger = chance_of(&s, m, &to, n + 1, 450);
            if (more < here - 1e-9 || (here >= 0.5 && larger < here - 1e-9))
                ck_abort_msg("%d and %d trays: %.9f, %.9f, %.9f", (int)m, (int)n, here, more, larger);
        }
}
END_TEST

START_TEST(numbers_of_a_pair)
{
    struct cot_sow s = plain_sow(128);
    struct cot_pot_on to = plain_pot(32);
    struct cot_pot_answer a;
    ck_assert_int_eq(cot_pot_promise(&s, 5, &to, 15, 0, 900, &a, NULL), COT_OK);
    ck_assert(a.chance == 1 && a.count_on <= a.likely && a.likely <= 15 * 32);
    ck_assert(a.plugs_count_on <= a.plugs_likely && a.plugs_likely <= 5 * 128);
    ck_assert_double_ge(chance_of(&s, 5, &to, 15, a.count_on), 0.9);
    ck_assert_double_lt(chance_of(&s, 5, &to, 15, a.count_on + 1), 0.9);
    ck_assert_double_ge(chance_of(&s, 5, &to, 15, a.likely), 0.5);
    ck_assert_double_lt(chance_of(&s, 5, &to, 15, a.likely + 1), 0.5);
}
END_TEST

/* Asked for alone, trays and plants are those of the whole answer. */
START_TEST(alone_as_together)
{
    struct dice d = dice_new("alone_as_together");
    for (int i = 0; i < 30; i++) {
        struct cot_sow s = any_sow(&d);
        struct cot_pot_on to = plain_pot(dice_int(&d, 20, 80));
        struct cot_pot_answer a;
        struct cot_sow_answer one;
        int64_t wanted = dice_int(&d, 20, 900), plugs, trays, count_on;
        s.tray_cells = dice_int(&d, 50, 200);
        if (cot_sow_trays(&s, wanted, 900, &one, NULL) == COT_OK) {
            sure(cot_sow_fewest(&s, wanted, 900, &trays, NULL) == COT_OK && trays == one.trays);
        }
        if (cot_pot_trays(&s, &to, wanted, 900, &a, NULL) != COT_OK) continue;
        sure(cot_pot_fewest(&s, &to, wanted, 900, &plugs, &trays, NULL) == COT_OK);
        sure(plugs == a.plug_trays && trays == a.trays);
        sure(cot_pot_count_on(&s, plugs, &to, trays, 900, &count_on, NULL) == COT_OK && count_on == a.count_on);
    }
    struct cot_sow s = any_sow(&d);
    struct cot_pot_on to = plain_pot(50);
    int64_t n;
    sure(cot_pot_count_on(&s, 0, &to, 1, 900, &n, NULL) == COT_INVALID);
    sure(cot_sow_fewest(&s, 0, 900, &n, NULL) == COT_INVALID);
}
END_TEST

START_TEST(figures_without_sense)
{
    struct cot_sow s = plain_sow(128);
    struct cot_pot_answer a;
    struct cot_fault fault = {0};
    static const double odd[] = {0, -1, NAN, INFINITY};
    for (int i = 0; i < 4; i++) {
        struct cot_pot_on to = plain_pot(32);
        to.take_a = odd[i];
        ck_assert_int_eq(cot_pot_trays(&s, &to, 100, 900, &a, &fault), COT_INVALID);
        to = plain_pot(32);
        to.room = odd[i];
        ck_assert_int_eq(cot_pot_trays(&s, &to, 100, 900, &a, &fault), COT_INVALID);
    }
    struct cot_pot_on to = plain_pot(0);
    ck_assert_int_eq(cot_pot_trays(&s, &to, 100, 900, &a, &fault), COT_INVALID);
    to = plain_pot(32);
    ck_assert_int_eq(cot_pot_trays(&s, &to, 0, 900, &a, &fault), COT_INVALID);
    ck_assert_int_eq(cot_pot_trays(&s, &to, 10000000, 900, &a, &fault), COT_TOO_LARGE);
    ck_assert_int_eq(cot_pot_promise(&s, 0, &to, 3, 10, 900, &a, &fault), COT_INVALID);
    ck_assert_int_eq(cot_pot_promise(&s, 3, &to, 100000, 10, 900, &a, &fault), COT_TOO_LARGE);
    s.germ_a = NAN;
    ck_assert_int_eq(cot_pot_promise(&s, 3, &to, 3, 10, 900, &a, &fault), COT_INVALID);
}
END_TEST

START_TEST(many_plants)
{
    struct cot_sow s = plain_sow(288);
    struct cot_pot_on to = plain_pot(32);
    struct cot_pot_answer a;
    ck_assert_int_eq(cot_pot_trays(&s, &to, 20000, 900, &a, NULL), COT_OK);
    ck_assert(a.chance >= 0.9 && a.trays * 32 > 20000 && a.count_on >= 20000);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/sow/pot");
    TCase *c = tcase_create("pot");
    tcase_set_timeout(c, 120);
    tcase_add_test(c, against_all_that_may_happen);
    tcase_add_test(c, least_bench_by_brute_force);
    tcase_add_test(c, more_of_either_is_no_worse);
    tcase_add_test(c, numbers_of_a_pair);
    tcase_add_test(c, many_plants);
    tcase_add_test(c, alone_as_together);
    tcase_add_test(c, figures_without_sense);
    suite_add_tcase(s, c);
    return s;
}
