/* Tests of server/core/sow/trays.c, plants.c and moments.c */
#include <string.h>

#include "plain.h"

static double chance_of(const struct cot_sow *s, int64_t trays, int64_t wanted)
{
    struct cot_plants p;
    ck_assert_int_eq(cot_sow_plants(s, trays, &p, NULL), COT_OK);
    return cot_plants_ge(&p, wanted);
}

static void close_to(double got, double want, double within)
{
    if (!(fabs(got - want) <= within * fabs(want))) ck_abort_msg("got %.12g, want %.12g", got, want);
}

/* --- Plants ------------------------------------------------------------------------------------------------------- */

/* One batch has mean and variance of what rate.h says of a batch before any count. */
START_TEST(one_batch_is_before)
{
    struct dice d = dice_new("one_batch_is_before");
    for (int i = 0; i < 200; i++) {
        struct cot_sow s = any_sow(&d);
        struct cot_odds lot;
        struct cot_plants got;
        struct cot_mix want;
        double mean, variance;
        int64_t trays = dice_int(&d, 1, 60);
        s.batches = 1;
        s.later = 0;
        ck_assert_int_eq(cot_sow_plants(&s, trays, &got, NULL), COT_OK);
        cot_odds_of_seed(s.germ_a, s.germ_b, s.emerge * s.fit, &lot);
        const struct cot_spread *p = &s.spread;
        struct cot_odds batch = {lot.mean + p->shift,
                                 sqrt(lot.sd * lot.sd + p->shift_sd * p->shift_sd + p->between * p->between)};
        cot_mix_before(&batch, p->rho_weight, trays, s.tray_cells, cot_cell_usable, &s.cell, &want);
        cot_plants_moments(&got, &mean, &variance);
        sure(got.cells == want.cells);
        close_to(mean, cot_mix_mean(&want), 1e-5);
        close_to(variance, cot_mix_variance(&want), 1e-4);
        cot_plants_mix(&got, &want);
        close_to(cot_mix_mean(&want), mean, 1e-5);
        close_to(cot_mix_variance(&want), variance, 1e-3);
    }
}
END_TEST

/* Nothing but the law of total variance, summed over a grid finer than the code's own and over every batch. */
static void total(const struct cot_sow *s, const int64_t *trays, int batches, double rho, double *mean,
                  double *variance)
{
    struct cot_odds lot;
    cot_odds_of_seed(s->germ_a, s->germ_b, s->emerge * s->fit, &lot);
    double common = sqrt(lot.sd * lot.sd + s->spread.shift_sd * s->spread.shift_sd), all = 0, sum = 0, square = 0,
           in = 0;
    for (int i = -100; i <= 100; i++) {
        double z = i / 15.0, w = exp(-z * z / 2), about = lot.mean + s->spread.shift + z * common;
        double each = 0, q1 = 0, q2 = 0;
        for (int j = -100; j <= 100; j++) {
            double y = j / 15.0, v = exp(-y * y / 2);
            double q = cot_cell_usable(&s->cell, 1 / (1 + exp(-about - y * s->spread.between)));
            each += v;
            q1 += v * q;
            q2 += v * q * q;
        }
        q1 /= each;
        q2 /= each;
        double m = 0, var = 0;
        for (int b = 0; b < batches; b++) {
            double n = (double)(trays[b] * s->tray_cells);
            double keep = 1 - s->later, spread = s->later * keep / (1 / s->later + 1), kept = keep * keep + spread;
            double v = n * (q1 - q2) * (1 + ((double)s->tray_cells - 1) * rho) + n * n * (q2 - q1 * q1);
            m += n * q1 * keep;
            var += kept * v + spread * n * q1 * n * q1 + n * q1 * (keep - kept);
        }
        all += w;
        sum += w * m;
        square += w * m * m;
        in += w * var;
    }
    *mean = sum / all;
    *variance = in / all + square / all - *mean * *mean;
}

START_TEST(several_batches)
{
    static const int64_t split[][3] = {{4, 4, 4}, {5, 4, 4}, {5, 5, 4}, {1, 1, 0}};
    struct cot_sow s = plain_sow(72);
    double rho = 0;
    s.batches = 3;
    for (int r = 0; r < COT_RHO_POINTS; r++) rho += s.spread.rho_weight[r] * cot_rho_point[r];
    for (int i = 0; i < 4; i++) {
        struct cot_plants p;
        double mean, variance, want_mean, want_variance;
        int64_t trays = split[i][0] + split[i][1] + split[i][2];
        ck_assert_int_eq(cot_sow_plants(&s, trays, &p, NULL), COT_OK);
        cot_plants_moments(&p, &mean, &variance);
        total(&s, split[i], 3, rho, &want_mean, &want_variance);
        close_to(mean, want_mean, 1e-6);
        close_to(variance, want_variance, 1e-5);
    }
}
END_TEST

/* Sown three times instead of once: the lot's uncertain germination stays, the batches' own luck evens out. */
START_TEST(batches_share_their_lot)
{
    struct cot_sow s = plain_sow(72);
    struct cot_plants p;
    double before = INFINITY, mean, variance;
    for (s.batches = 1; s.batches <= 12; s.batches++) {
        ck_assert_int_eq(cot_sow_plants(&s, 12, &p, NULL), COT_OK);
        cot_plants_moments(&p, &mean, &variance);
        ck_assert_double_lt(variance, before);
        before = variance;
    }
    s.spread.between = 0;
    s.batches = 1;
    ck_assert_int_eq(cot_sow_plants(&s, 12, &p, NULL), COT_OK);
    cot_plants_moments(&p, &mean, &variance);
    ck_assert_double_lt(variance, before);
}
END_TEST

/* --- Against the sum over all that may happen --------------------------------------------------------------------- */
#define SMALL_CELLS 400

static void add_tray(double *sum, int64_t cells, const double *tray, int64_t tray_cells)
{
    for (int64_t k = cells + tray_cells; k >= 0; k--) {
        double p = 0;
        for (int64_t j = 0; j <= tray_cells; j++)
            if (k - j >= 0 && k - j <= cells) p += tray[j] * sum[k - j];
        sum[k] = p;
    }
}

/* Distribution of all plants at one rho and one rate. */
static void trays_at(const struct cot_sow *s, int64_t trays, double rho, double rate, double *sum)
{
    double tray[SMALL_CELLS + 1], q = cot_cell_usable(&s->cell, rate), w = 1 / rho - 1;
    for (int64_t j = 0; j <= s->tray_cells; j++) tray[j] = cot_betabinom_pmf(s->tray_cells, q * w, (1 - q) * w, j);
    for (int64_t k = 0; k <= SMALL_CELLS; k++) sum[k] = k == 0;
    for (int64_t t = 0; t < trays; t++) add_tray(sum, t * s->tray_cells, tray, s->tray_cells);
}

/* Each of k plants is lost with a share ~ Beta(1, 1/later - 1). */
static void lose(double *p, int64_t cells, double later)
{
    double left[SMALL_CELLS + 1] = {0};
    for (int64_t k = 0; k <= cells; k++)
        for (int64_t j = 0; j <= k; j++) left[j] += p[k] * cot_betabinom_pmf(k, 1 / later - 1, 1, j);
    memcpy(p, left, sizeof(double) * (size_t)(cells + 1));
}

/* P(X <= k) of one batch, k = 0 .. cells: every tray drawn at its rho and rate, convolved, and summed over rho, over
 * g on a fine grid, and over the batch's own part. */
static void exactly(const struct cot_sow *s, int64_t trays, double *le)
{
    int64_t cells = trays * s->tray_cells;
    double sum[SMALL_CELLS + 1], all = 0;
    for (int64_t k = 0; k <= cells; k++) le[k] = 0;
    double c = s->emerge * s->fit;
    for (int i = 0; i < 60; i++) {
        double g = cot_ibeta_inv(s->germ_a, s->germ_b, (i + 0.5) / 60);
        double about = log(g * c / (1 - g * c)) + s->spread.shift, sd = hypot(s->spread.between, s->spread.shift_sd);
        for (int j = -8; j <= 8; j++) {
            double z = j / 2.0, w = exp(-z * z / 2);
            for (int r = 0; r < COT_RHO_POINTS; r++) {
                double v = w * s->spread.rho_weight[r];
                trays_at(s, trays, cot_rho_point[r], 1 / (1 + exp(-about - z * sd)), sum);
                for (int64_t k = 0; k <= cells; k++) le[k] += v * sum[k];
                all += v;
            }
        }
    }
    lose(le, cells, s->later);
    for (int64_t k = 0; k <= cells; k++) le[k] = le[k] / all + (k > 0 ? le[k - 1] : 0);
}

/* The largest error of any P(X <= k); and of those where P is 5 to 20 %. */
static double far_off(const struct cot_sow *s, int64_t trays, double *promise, double *in_nine)
{
    double le[SMALL_CELLS + 1], worst = 0;
    struct cot_plants m;
    ck_assert_int_eq(cot_sow_plants(s, trays, &m, NULL), COT_OK);
    exactly(s, trays, le);
    struct cot_mix nine;
    cot_plants_mix(&m, &nine);
    *promise = *in_nine = 0;
    for (int64_t k = 0; k <= m.cells; k++) {
        double off = fabs(1 - cot_plants_ge(&m, k + 1) - le[k]);
        worst = fmax(worst, off);
        *in_nine = fmax(*in_nine, fabs(cot_mix_le(&nine, k) - le[k]));
        if (le[k] >= 0.05 && le[k] <= 0.2) *promise = fmax(*promise, off);
    }
    return worst;
}

struct shape {
    const char *what;
    int64_t tray_cells, trays;
    double germinated, seeds;
    int64_t drops, at_least;
};

/* Matching in mean and variance: how far any P(X <= k) is off, and how far where a promise is made. */
START_TEST(against_the_exact_sum)
{
    static const struct shape shapes[] = {
        {"one tray", 24, 1, 372, 400, 1, 1},     {"four trays", 24, 4, 372, 400, 1, 1},
        {"eight trays", 40, 8, 372, 400, 1, 1},  {"from a label", 24, 3, 90, 100, 1, 1},
        {"poor seed", 24, 4, 55, 100, 1, 1},     {"two seeds", 24, 4, 90, 100, 2, 1},
        {"five of eight", 24, 4, 90, 100, 8, 5},
    };
    for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++) {
        const struct shape *h = &shapes[i];
        struct cot_sow s = plain_sow(h->tray_cells);
        struct cot_drop_known k = {.seeds = h->drops, .singling = {40, 50}};
        ck_assert_int_eq(cot_drop_of(&k, &s.cell.drop, NULL), COT_OK);
        s.cell.at_least = h->at_least;
        s.germ_a = h->germinated + 1;
        s.germ_b = h->seeds - h->germinated + 1;
        double promise, in_nine, off = far_off(&s, h->trays, &promise, &in_nine);
        printf("largest error of P(X <= k), %s: %.4f, near a promise of 9 in 10: %.4f\n", h->what, off, promise);
        printf("the same in nine parts: %.4f\n", in_nine);
        ck_assert_double_lt(off, 0.005);
        ck_assert_double_lt(in_nine, h->drops > 2 ? 0.03 : 0.012);
        ck_assert_double_lt(promise, 0.003);
    }
}
END_TEST

/* Two batches of a tray each, sown on two days: alike in lot and crop, each with its own part. */
START_TEST(two_batches_exactly)
{
    struct cot_sow s = plain_sow(40);
    struct cot_plants p;
    struct cot_odds lot;
    double le[SMALL_CELLS + 1] = {0}, all = 0, worst = 0;
    s.batches = 2;
    cot_odds_of_seed(s.germ_a, s.germ_b, s.emerge * s.fit, &lot);
    double shared = hypot(lot.sd, s.spread.shift_sd);
    for (int r = 0; r < COT_RHO_POINTS; r++)
        for (int i = -24; i <= 24; i++) {
            double z = i / 4.0, w = exp(-z * z / 2) * s.spread.rho_weight[r], one[41] = {0}, each = 0;
            for (int j = -24; j <= 24; j++) {
                double y = j / 4.0, v = exp(-y * y / 2), tray[SMALL_CELLS + 1];
                trays_at(&s, 1, cot_rho_point[r], 1 / (1 + exp(-lot.mean - z * shared - y * s.spread.between)), tray);
                for (int k = 0; k <= 40; k++) one[k] += v * tray[k];
                each += v;
            }
            lose(one, 40, s.later);
            for (int a = 0; a <= 40; a++)
                for (int b = 0; b <= 40; b++) le[a + b] += w * one[a] / each * (one[b] / each);
            all += w;
        }
    ck_assert_int_eq(cot_sow_plants(&s, 2, &p, NULL), COT_OK);
    double sum = 0;
    for (int k = 0; k <= 80; k++) {
        sum += le[k] / all;
        worst = fmax(worst, fabs(1 - cot_plants_ge(&p, k + 1) - sum));
    }
    printf("largest error of P(X <= k), two batches: %.4f\n", worst);
    ck_assert_double_lt(worst, 0.005);
}
END_TEST

/* --- Trays -------------------------------------------------------------------------------------------------------- */

/* Every number of trays from one on, one after the other. */
START_TEST(fewest_by_brute_force)
{
    struct dice d = dice_new("fewest_by_brute_force");
    static const int32_t sureness[] = {500, 800, 900, 950, 990};
    for (int i = 0; i < 30; i++) {
        struct cot_sow s = any_sow(&d);
        struct cot_sow_answer got;
        int64_t wanted = dice_int(&d, 1, 4000);
        int32_t confidence = sureness[i % 5];
        ck_assert_int_eq(cot_sow_trays(&s, wanted, confidence, &got, NULL), COT_OK);
        double before = 0;
        for (int64_t trays = 1; trays <= got.trays + 3; trays++) {
            double chance = chance_of(&s, trays, wanted);
            sure(chance >= before);
            sure((chance >= cot_round9(confidence / 1000.0)) == (trays >= got.trays));
            if (trays == got.trays) sure(chance == got.chance);
            before = chance;
        }
    }
}
END_TEST

/* What can be promised of trays, and the trays for a promise, are each other's inverse. */
START_TEST(promise_is_the_inverse)
{
    struct dice d = dice_new("promise_is_the_inverse");
    for (int i = 0; i < 80; i++) {
        struct cot_sow s = any_sow(&d);
        struct cot_sow_answer p, t;
        int64_t trays = dice_int(&d, 1, 40);
        ck_assert_int_eq(cot_sow_promise(&s, trays, 0, 900, &p, NULL), COT_OK);
        sure(p.chance == 1 && p.count_on <= p.likely && p.likely <= trays * s.tray_cells);
        sure(chance_of(&s, trays, p.count_on) >= 0.9 && chance_of(&s, trays, p.count_on + 1) < 0.9);
        if (p.count_on < 1) continue;
        ck_assert_int_eq(cot_sow_trays(&s, p.count_on, 900, &t, NULL), COT_OK);
        sure(t.trays <= trays);
        ck_assert_int_eq(cot_sow_trays(&s, p.count_on + 1, 900, &t, NULL), COT_OK);
        sure(t.trays > trays);
    }
}
END_TEST

START_TEST(more_wanted_more_trays)
{
    struct cot_sow s = plain_sow(128);
    int64_t before = 0;
    for (int64_t wanted = 1; wanted <= 3000; wanted += 7) {
        struct cot_sow_answer a;
        ck_assert_int_eq(cot_sow_trays(&s, wanted, 900, &a, NULL), COT_OK);
        sure(a.trays >= before && a.trays * 128 >= wanted && a.count_on >= wanted);
        before = a.trays;
    }
}
END_TEST

/* With everything certain a cell is a plant. */
START_TEST(nothing_lost)
{
    struct cot_sow s = plain_sow(50);
    struct cot_drop_known k = {.by_hand = true, .seeds = 1};
    struct cot_sow_answer a;
    ck_assert_int_eq(cot_drop_of(&k, &s.cell.drop, NULL), COT_OK);
    s.germ_a = 1e9;
    s.germ_b = 0.5;
    s.fit = 1;
    s.later = 0;
    s.spread.between = s.spread.shift_sd = 0;
    ck_assert_int_eq(cot_sow_trays(&s, 500, 990, &a, NULL), COT_OK);
    ck_assert_int_eq(a.trays, 10);
    ck_assert_int_eq(a.count_on, 500);
    ck_assert_int_eq(cot_sow_trays(&s, 501, 990, &a, NULL), COT_OK);
    ck_assert_int_eq(a.trays, 11);
}
END_TEST

START_TEST(hopeless)
{
    struct cot_sow s = plain_sow(12);
    struct cot_sow_answer a;
    struct cot_fault fault = {0};
    s.germ_a = 1;
    s.germ_b = 1e6;
    ck_assert_int_eq(cot_sow_trays(&s, 100000, 900, &a, &fault), COT_TOO_LARGE);
    ck_assert_ptr_nonnull(strstr(fault.msg, "100000 trays"));
}
END_TEST

START_TEST(a_million_plants)
{
    struct cot_sow s = plain_sow(288);
    struct cot_sow_answer a;
    ck_assert_int_eq(cot_sow_trays(&s, 1000000, 900, &a, NULL), COT_OK);
    ck_assert(a.chance >= 0.9 && a.trays * 288 > 1000000 && a.count_on >= 1000000);
    ck_assert(chance_of(&s, a.trays - 1, 1000000) < 0.9);
}
END_TEST

/* --- Seeds -------------------------------------------------------------------------------------------------------- */

/* Enough seeds, against the distribution of all seeds of a tray, drop by drop. */
START_TEST(seeds_enough)
{
    struct cot_sow s = plain_sow(100);
    struct cot_sow_seeds got;
    ck_assert_int_eq(cot_sow_seeds(&s, 1, 900, &got, NULL), COT_OK);
    ck_assert_int_eq(got.mean, 101);
    double sum[201] = {1}, le = 0;
    for (int64_t t = 0; t < 100; t++) add_tray(sum, 2 * t, s.cell.drop.p, 2);
    for (int64_t k = 0; k <= got.enough; k++) le += sum[k];
    ck_assert_double_ge(le, 0.9 - 0.02);
    ck_assert_double_le(le - sum[got.enough], 0.9 + 0.02);
}
END_TEST

START_TEST(seeds_by_hand)
{
    struct cot_sow s = plain_sow(128);
    struct cot_drop_known k = {.by_hand = true, .seeds = 6};
    struct cot_sow_seeds got;
    ck_assert_int_eq(cot_drop_of(&k, &s.cell.drop, NULL), COT_OK);
    ck_assert_int_eq(cot_sow_seeds(&s, 4, 900, &got, NULL), COT_OK);
    ck_assert(got.mean == 4 * 128 * 6 && got.enough == got.mean);
}
END_TEST

START_TEST(trays_of_seeds)
{
    struct dice d = dice_new("trays_of_seeds");
    for (int i = 0; i < 200; i++) {
        struct cot_sow s = any_sow(&d);
        struct cot_sow_seeds one, more;
        int64_t seeds = dice_int(&d, 0, 20000), trays;
        ck_assert_int_eq(cot_sow_trays_of_seeds(&s, seeds, 900, &trays, NULL), COT_OK);
        if (trays > 0) {
            ck_assert_int_eq(cot_sow_seeds(&s, trays, 900, &one, NULL), COT_OK);
            sure(one.enough <= seeds);
        }
        ck_assert_int_eq(cot_sow_seeds(&s, trays + 1, 900, &more, NULL), COT_OK);
        sure(more.enough > seeds);
    }
}
END_TEST

/* --- What makes no sense ------------------------------------------------------------------------------------------ */
static void refused(const struct cot_sow *s, const char *what)
{
    struct cot_fault fault = {0};
    struct cot_sow_answer a;
    ck_assert_msg(cot_sow_trays(s, 100, 900, &a, &fault) == COT_INVALID, "%s is taken", what);
    ck_assert_str_ne(fault.msg, "");
}

START_TEST(bad_figures)
{
    static const double bad[] = {0, -1, 1.5, NAN, INFINITY};
    for (int i = 0; i < 5; i++) {
        struct cot_sow s = plain_sow(72);
        s.emerge = bad[i];
        refused(&s, "emerge");
        s = plain_sow(72);
        s.fit = bad[i];
        refused(&s, "fit");
        s = plain_sow(72);
        if (i > 0) s.later = bad[i];
        else s.fit = 0;
        refused(&s, "later");
        s = plain_sow(72);
        if (i != 0) s.spread.rho_weight[3] = bad[i];
        else s.spread.rho_weight[4] += 0.1;
        refused(&s, "rho_weight");
        if (i == 2) continue;
        s = plain_sow(72);
        s.germ_a = bad[i];
        refused(&s, "germ_a");
        s = plain_sow(72);
        if (i > 0) s.spread.between = bad[i];
        else s.spread.shift = -INFINITY;
        refused(&s, "between");
    }
    struct cot_sow s = plain_sow(0);
    refused(&s, "no cells");
    s = plain_sow(40001);
    refused(&s, "cells");
    s = plain_sow(72);
    s.batches = 0;
    refused(&s, "no batches");
    s = plain_sow(72);
    s.cell.at_least = 3; /* the drop leaves two at most */
    refused(&s, "at_least");
}
END_TEST

START_TEST(bad_questions)
{
    struct cot_sow s = plain_sow(72);
    struct cot_sow_answer a;
    struct cot_sow_seeds n;
    struct cot_plants m;
    int64_t trays;
    static const int64_t wanted[] = {0, -1, COT_SOW_PLANTS_MOST + 1, INT64_MAX};
    for (int i = 0; i < 4; i++) ck_assert_int_eq(cot_sow_trays(&s, wanted[i], 900, &a, NULL), COT_INVALID);
    static const int32_t sureness[] = {0, -1, 499, 1000, 2000};
    for (int i = 0; i < 5; i++) ck_assert_int_eq(cot_sow_trays(&s, 100, sureness[i], &a, NULL), COT_INVALID);
    static const int64_t count[] = {0, -1, COT_SOW_TRAYS_MOST + 1, INT64_MAX};
    for (int i = 0; i < 4; i++) {
        ck_assert_int_eq(cot_sow_promise(&s, count[i], 0, 900, &a, NULL), COT_INVALID);
        ck_assert_int_eq(cot_sow_plants(&s, count[i], &m, NULL), COT_INVALID);
        ck_assert_int_eq(cot_sow_seeds(&s, count[i], 900, &n, NULL), COT_INVALID);
    }
    ck_assert_int_eq(cot_sow_trays_of_seeds(&s, -1, 900, &trays, NULL), COT_INVALID);
}
END_TEST

/* --- The search itself -------------------------------------------------------------------------------------------- */
static bool not_below(const void *context, int64_t n)
{
    return n >= *(const int64_t *)context;
}

START_TEST(fewest)
{
    for (int64_t at = -3; at <= 45; at++)
        for (int64_t guess = -2; guess <= 50; guess++) {
            int64_t want = at < 1 ? 1 : at > 40 ? 41 : at;
            sure(cot_fewest(1, 40, guess, not_below, &at) == want);
        }
    int64_t at = 3;
    ck_assert_int_eq(cot_fewest(5, 4, 5, not_below, &at), 5);
}
END_TEST

static void add(Suite *suite, const char *name, const TTest *const *tests)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 120);
    for (; *tests; tests++) tcase_add_test(c, *tests);
    suite_add_tcase(suite, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/sow/trays");
    add(s, "plants",
        (const TTest *const[]){one_batch_is_before, several_batches, batches_share_their_lot, against_the_exact_sum,
                               two_batches_exactly, NULL});
    add(s, "trays",
        (const TTest *const[]){fewest_by_brute_force, promise_is_the_inverse, more_wanted_more_trays, nothing_lost,
                               hopeless, a_million_plants, fewest, NULL});
    add(s, "seeds", (const TTest *const[]){seeds_enough, seeds_by_hand, trays_of_seeds, NULL});
    add(s, "sense", (const TTest *const[]){bad_figures, bad_questions, NULL});
    return s;
}
