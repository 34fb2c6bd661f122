/* server/core/stand/count.c: what it foretells is held against counting on. */
#include <math.h>
#include <string.h>

#include "cotyledger/core/count.h"
#include "cotyledger/core/prob.h"
#include "prob/prob.h"
#include "stand/calc.h"
#include "../season.h"

/* --- One batch of trays of 72 ------------------------------------------------------------------------------------- */
#define TRAYS 12

struct drawn {
    struct cot_stand_in in;
    int usable[TRAYS];
};

static void draw_batch(struct dice *d, struct drawn *x)
{
    struct cot_spread spread;
    *x = (struct drawn){.in = {.trays = TRAYS,
                               .tray_cells = 72,
                               .cells = TRAYS * 72,
                               .before = {2.2, 0.4},
                               .usable_share = 0.95,
                               .count_day = COT_DAY_NONE}};
    cot_spread_assumed(&spread);
    memcpy(x->in.rho_weight, spread.rho_weight, sizeof spread.rho_weight);
    double u = dice_real(d);
    int r = 0;
    while (r < COT_RHO_POINTS - 1 && u > spread.rho_weight[r]) u -= spread.rho_weight[r++];
    double q = cot_rate_of_odds(2.2 + 0.4 * cot_phi_inv(dice_real(d))), phi = 1 / cot_rho_point[r] - 1;
    for (int t = 0; t < TRAYS; t++) {
        double own = cot_ibeta_inv(phi * q, phi * (1 - q), dice_real(d));
        x->usable[t] = (int)cot_binom_quantile(72, own, dice_real(d));
    }
}

static struct cot_stand stand_of(const struct drawn *x, int counted, double later)
{
    struct cot_tray_count c[TRAYS];
    struct cot_work work = {.what = COT_WORK_COUNT, .day = 20, .counts = c, .count_len = (size_t)counted};
    struct cot_stand_in in = x->in;
    struct cot_stand s = {.trays = TRAYS, .counted = COT_DAY_NONE, .later_share = later};
    for (int t = 0; t < counted; t++) c[t] = (struct cot_tray_count){t + 1, 72, x->usable[t], 72 - x->usable[t], 0, 0};
    in.work = &work;
    in.work_len = counted > 0;
    sure(cot_stand_sum(&in, &s, NULL) == COT_OK);
    cot_stand_finish(&s, 900);
    return s;
}

/* The verdict by the stand's own numbers. */
static enum cot_fill_verdict truly(const struct cot_stand *s, int64_t need)
{
    double p = 1 - cot_mix_le(&s->then, need - 1 - s->then_base);
    return p >= 0.9 ? COT_COVERED : s->likely >= need ? COT_IN_DOUBT : COT_SHORT;
}

START_TEST(settled_and_not)
{
    struct dice d = {5};
    struct drawn x;
    draw_batch(&d, &x);
    struct cot_stand s = stand_of(&x, 3, 0);
    ck_assert_int_eq(cot_count_left(&s), TRAYS - 3);
    ck_assert_int_eq(cot_count_verdict(&s, 900, 100), COT_COVERED);
    ck_assert_int_eq(cot_count_trays(&s, 900, 100), 0);
    ck_assert_int_eq(cot_count_verdict(&s, 900, 864), COT_SHORT);
    ck_assert_int_eq(cot_count_trays(&s, 900, 864), 0);
    int64_t need = cot_stand_at(&s, 0.3);
    ck_assert_int_eq(cot_count_verdict(&s, 900, need), COT_IN_DOUBT);
    int64_t trays = cot_count_trays(&s, 900, need);
    ck_assert(trays > 0 && trays < TRAYS - 3);
    ck_assert_double_ge(cot_count_settles(&s, 900, need, trays), COT_COUNT_SETTLED);
    ck_assert_double_lt(cot_count_settles(&s, 900, need, trays - 1), COT_COUNT_SETTLED);
    ck_assert_double_ge(cot_count_settles(&s, 900, need, TRAYS - 3), 0.97);
    const int64_t both[] = {need, 100}, far[] = {100, 864};
    ck_assert_double_gt(cot_count_changes(&s, 900, both, 2), 0.1);
    ck_assert(cot_count_changes(&s, 900, far, 2) == 0 && cot_count_changes(&s, 900, far, 0) == 0);
}
END_TEST

START_TEST(all_counted)
{
    struct dice d = {6};
    struct drawn x;
    draw_batch(&d, &x);
    struct cot_stand s = stand_of(&x, TRAYS, 0);
    int64_t need = s.fixed;
    ck_assert_int_eq(cot_count_left(&s), 0);
    ck_assert_int_eq(cot_count_verdict(&s, 900, need), COT_COVERED);
    ck_assert_int_eq(cot_count_verdict(&s, 900, need + 1), COT_SHORT);
    ck_assert(cot_count_changes(&s, 900, &need, 1) == 0);
    s = stand_of(&x, TRAYS, 0.05); /* what may still be lost nobody can count */
    need = cot_stand_at(&s, 0.3);
    ck_assert_int_eq(cot_count_verdict(&s, 900, need), COT_IN_DOUBT);
    ck_assert_int_eq(cot_count_trays(&s, 900, need), COT_COUNT_NEVER);
}
END_TEST

START_TEST(without_sense)
{
    struct dice d = {7};
    struct drawn x;
    draw_batch(&d, &x);
    struct cot_stand s = stand_of(&x, 3, 0);
    int64_t need = -1;
    ck_assert(isnan(cot_count_settles(&s, 900, -1, 1)) && isnan(cot_count_settles(&s, 0, 500, 1)));
    ck_assert(isnan(cot_count_settles(&s, 1000, 500, 1)) && isnan(cot_count_settles(&s, 900, 500, TRAYS)));
    ck_assert(isnan(cot_count_settles(&s, 900, 500, -1)) && isnan(cot_count_changes(&s, 900, &need, 1)));
    ck_assert_int_eq(cot_count_trays(&s, 900, -1), COT_COUNT_NEVER);
}
END_TEST

/* What is foretold of three more trays, and of one, comes true as often as foretold; the verdicts are the stand's. */
START_TEST(foretold_comes_true)
{
    struct dice d = dice_new("foretold_comes_true");
    int rounds = 2500, settled = 0, changed = 0, alike = 0;
    double settles = 0, changes = 0;
    for (int round = 0; round < rounds; round++) {
        struct drawn x;
        draw_batch(&d, &x);
        double later = round % 2 ? 0.02 : 0;
        struct cot_stand now = stand_of(&x, 2, later), one = stand_of(&x, 3, later), three = stand_of(&x, 5, later);
        int64_t need = cot_stand_at(&now, 0.15 + 0.3 * dice_real(&d));
        settles += cot_count_settles(&now, 900, need, 3);
        settled += truly(&three, need) != COT_IN_DOUBT;
        changes += cot_count_changes(&now, 900, &need, 1);
        changed += truly(&one, need) != truly(&now, need);
        alike += cot_count_verdict(&now, 900, need) == truly(&now, need);
    }
    printf("settled %.3f, foretold %.3f; changed %.3f, foretold %.3f; verdicts alike %.3f\n", (double)settled / rounds,
           settles / rounds, (double)changed / rounds, changes / rounds, (double)alike / rounds);
    fflush(stdout);
    ck_assert_double_eq_tol((double)settled / rounds, settles / rounds, 0.07);
    ck_assert_double_eq_tol((double)changed / rounds, changes / rounds, 0.07);
    ck_assert_double_gt((double)alike / rounds, 0.93);
}
END_TEST

/* --- Of a fill ---------------------------------------------------------------------------------------------------- */
#define SOWN 20900 /* 2027-03-23 */

START_TEST(advice_of_a_fill)
{
    static struct season s;
    static struct cot_tray_count two[2] = {{1, 72, 66, 6, 0, 0}, {2, 72, 62, 10, 0, 0}};
    struct cot_fill f;
    struct cot_count_advice a;
    season_new(&s, 4);
    struct cot_id crop = add_crop(&s, "Lettuce", 28, 35), red = add_variety(&s, "Red Harbour", &crop);
    struct cot_id format = add_format(&s, "72 square", 6, 12), farm = add_named(&s, COT_K_FARM, "Alder Ford");
    start_lot(&s, "RH-1", &red, 372);
    struct cot_id lot = *done(&s);
    start_sown(&s, &lot, &format, 10, SOWN);
    struct cot_id batch = *done(&s);
    make(&s, COT_K_COUNT);
    about(&s, &batch);
    say(&s, COT_F_DAY, SOWN + 14);
    ck_assert(cot_fact_set_counts(&s.next, COT_F_COUNTS, two, 2));
    done(&s);
    struct cot_id line[3];
    static const int plants[3] = {300, 315, 400};
    for (int i = 0; i < 3; i++) {
        start_line(&s, &farm, &red, plants[i], SOWN + 28 + i);
        line[i] = *done(&s);
        promise(&s, &line[i], &farm, plants[i]);
    }
    struct cot_book *b = season_book(&s, NULL);
    ck_assert_int_eq(cot_fill_read(b, SOWN + 15, &f), COT_OK);
    ck_assert_int_eq(f.line[1].verdict, COT_IN_DOUBT);
    ck_assert_int_eq(cot_count_advise(&f, 0, &a), COT_OK);
    ck_assert(a.left == 8 && a.line == &f.line[1] && a.trays >= 1 && a.trays <= 8 && a.changes > 0.05);
    int64_t a_trays = a.trays;
    ck_assert_int_eq(cot_count_advise(&f, 1, &a), COT_INVALID);
    struct cot_count_line more;
    cot_count_for_line(&f, 1, &more);
    ck_assert(more.batch == 0 && more.trays == a_trays && !more.several);
    cot_count_for_line(&f, 0, &more);
    ck_assert(f.line[0].verdict == COT_COVERED && more.trays == 0);
    cot_fill_free(&f);
    cot_book_free(b);
    season_free(&s);
}
END_TEST

/* A line fed by a small batch half counted and a large one that nobody has counted: the large one first, as soon as its
 * day has come. */
START_TEST(what_to_count_for_a_line)
{
    static struct season s;
    static struct cot_tray_count one[1] = {{1, 72, 64, 8, 0, 0}};
    struct cot_fill f;
    struct cot_count_line more;
    season_new(&s, 6);
    struct cot_id crop = add_crop(&s, "Lettuce", 28, 35), red = add_variety(&s, "Red Harbour", &crop);
    struct cot_id format = add_format(&s, "72 square", 6, 12), farm = add_named(&s, COT_K_FARM, "Alder Ford");
    start_lot(&s, "RH-1", &red, 372);
    struct cot_id lot = *done(&s), batch[2];
    for (int i = 0; i < 2; i++) {
        start_sown(&s, &lot, &format, i ? 8 : 2, SOWN);
        batch[i] = *done(&s);
    }
    make(&s, COT_K_COUNT);
    about(&s, &batch[0]);
    say(&s, COT_F_DAY, SOWN + 14);
    ck_assert(cot_fact_set_counts(&s.next, COT_F_COUNTS, one, 1));
    done(&s);
    start_line(&s, &farm, &red, 610, SOWN + 28);
    struct cot_id line = *done(&s);
    promise(&s, &line, &farm, 610);
    struct cot_book *b = season_book(&s, NULL);
    ck_assert_int_eq(cot_fill_read(b, SOWN + 15, &f), COT_OK);
    ck_assert_int_eq(f.line[0].verdict, COT_IN_DOUBT);
    ck_assert_uint_eq(f.allot_count, 2);
    cot_count_for_line(&f, 0, &more);
    const struct cot_stand *large = &f.stand[more.batch];
    int64_t need = cot_stand_at(large, cot_round9(1 - f.line[0].chance));
    ck_assert(more.several && cot_id_cmp(&large->batch, &batch[1]) == 0);
    ck_assert(more.trays > 1 && cot_count_settles(large, f.confidence, need, more.trays) >= COT_COUNT_SETTLED);
    ck_assert(cot_count_settles(large, f.confidence, need, more.trays - 1) < COT_COUNT_SETTLED);
    f.on = large->count_day - 1;
    f.stand[0].count_day = f.stand[1].count_day = large->count_day;
    cot_count_for_line(&f, 0, &more);
    ck_assert_int_eq(more.trays, 0);
    cot_fill_free(&f);
    cot_book_free(b);
    season_free(&s);
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 120);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/stand_count");
    add(s, "settled", settled_and_not);
    add(s, "all", all_counted);
    add(s, "nonsense", without_sense);
    add(s, "foretold", foretold_comes_true);
    add(s, "fill", advice_of_a_fill);
    add(s, "line", what_to_count_for_a_line);
    return s;
}
