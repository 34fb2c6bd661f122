/* server/core/stand/calc.c, plants.c, prior.c: the stand on plain figures. Whether its numbers are kept is in
 * kept_test.c, the reading of a book in stand_test.c. */
#include <math.h>
#include <string.h>

#include "bench.h"
#include "prob/prob.h"

/* --- The rate before any count --------------------------------------------------------------------------------------
 */
static struct cot_rate_known known(void)
{
    return (struct cot_rate_known){.test_seeds = 100,
                                   .test_germ = 92,
                                   .label = -1,
                                   .assumed_seeds = 100,
                                   .lawful = -1,
                                   .emergence = 1000,
                                   .usable = 950};
}

static void expect_odds(const struct cot_rate_known *k, enum cot_stand_basis basis, double a, double b, double c)
{
    struct cot_odds got, want;
    ck_assert_int_eq(cot_rate_before(k, &got), basis);
    cot_odds_of_seed(a, b, c, &want);
    ck_assert_double_eq_tol(got.mean, want.mean, 1e-12);
    ck_assert_double_eq_tol(got.sd, want.sd, 1e-12);
}

/* Germinated and not, one more of each; where less is known, fewer seeds are taken as tested. */
START_TEST(rate_of_a_lot)
{
    struct cot_rate_known k = known();
    expect_odds(&k, COT_BASIS_TEST, 93, 9, 0.95);
    k.emergence = 900;
    k.test_germ = 300; /* no more than were tested */
    expect_odds(&k, COT_BASIS_TEST, 101, 1, 0.9 * 0.95);
    k.emergence = 1000;
    k.test_seeds = 0;
    k.label = 900;
    expect_odds(&k, COT_BASIS_LABEL, 91, 11, 0.95);
    k.label = -1;
    k.lawful = 800;
    expect_odds(&k, COT_BASIS_LAWFUL, 41, 11, 0.95);
    k.lawful = -1;
    expect_odds(&k, COT_BASIS_NOTHING, 1, 1, 0.95);
    k.potted = true;
    expect_odds(&k, COT_BASIS_POTTED, 98, 2, 1);
}
END_TEST

static double two_of_three(const void *context, double s)
{
    (void)context;
    return cot_binom_ge(3, s, 2);
}

/* Mean and variance of q over x, against a finer sum. */
START_TEST(rate_as_beta)
{
    const struct cot_odds x = {1.1, 0.6};
    double a, b, all = 0, mean = 0, square = 0;
    for (int i = -8000; i <= 8000; i++) {
        double z = i / 1000.0, w = exp(-0.5 * z * z), q = two_of_three(NULL, cot_rate_of_odds(x.mean + z * x.sd));
        all += w;
        mean += w * q;
        square += w * q * q;
    }
    mean /= all;
    cot_rate_beta(&x, two_of_three, NULL, &a, &b);
    ck_assert_double_eq_tol(a / (a + b), mean, 1e-9);
    ck_assert_double_eq_tol(a + b, mean * (1 - mean) / (square / all - mean * mean) - 1, 1e-6);
    cot_rate_beta(&(struct cot_odds){2, 0.01}, NULL, NULL, &a, &b); /* never worth more than so many cells */
    ck_assert_double_eq_tol(a + b, COT_PRIOR_MOST, 1e-9);
}
END_TEST

/* Half have come by the median day, and what is not sure of that day spreads it. */
START_TEST(emergence_by_day)
{
    const struct cot_emergence e = {.median = 8, .median_sd = 0.1, .spread = 0.25};
    double before = 0;
    ck_assert_double_eq_tol(cot_emerged(&e, 8, 0), 0.5, 1e-12);
    ck_assert_double_eq_tol(cot_emerged(&e, 8, -1.5), cot_phi(1.5 * 0.1 / 0.25), 1e-12);
    ck_assert_double_eq_tol(cot_emerged(&e, 8, -1.5) + cot_emerged(&e, 8, 1.5), 1, 1e-12);
    for (int32_t day = 0; day <= 30; day++) {
        double share = cot_emerged(&e, day, 0);
        ck_assert(cot_emerged(&e, day, -1) >= share && share >= cot_emerged(&e, day, 1) && share >= before);
        ck_assert_double_gt(cot_emerged(&e, day, 1), 0);
        before = share;
    }
    ck_assert_double_gt(before, 0.9999);
}
END_TEST

/* --- Counts ---------------------------------------------------------------------------------------------------------
 */
START_TEST(not_counted)
{
    struct bench x;
    bench_new(&x, 10, 72);
    const struct cot_stand *s = sum(&x);
    ck_assert(s->cells == 720 && s->unseen == 720 && s->fixed == 0 && s->looked == 0 && s->counted == COT_DAY_NONE);
    /* Trays that differ leave the middle where it is and the low end a little lower. */
    int64_t middle = cot_betabinom_quantile(720, 90, 10, 0.5), low = cot_betabinom_quantile(720, 90, 10, 0.1);
    ck_assert(s->likely >= middle - 3 && s->likely <= middle + 3);
    ck_assert(s->count_on <= low + 1 && s->count_on > low - 10);
    ck_assert_double_eq_tol(s->rate, 0.9, 2e-3);
}
END_TEST

START_TEST(all_counted)
{
    struct bench x;
    bench_new(&x, 3, 72);
    count(&x, 20, 1, 72, 66, 4, 2);
    count(&x, 20, 2, 72, 70, 2, 0);
    count(&x, 21, 3, 72, 61, 9, 2);
    const struct cot_stand *s = sum(&x);
    ck_assert(s->usable == 197 && s->blanks == 15 && s->culls == 4 && s->looked == 216);
    ck_assert(s->trays_counted == 3 && s->counted == 21 && s->unseen == 0 && !s->bounded);
    ck_assert_int_eq(s->likely, 197);
    ck_assert_int_eq(s->count_on, 197);
    ck_assert(s->rate > 0.89 && s->rate < 0.92);
}
END_TEST

START_TEST(counted_again)
{
    struct bench x;
    bench_new(&x, 10, 72);
    count(&x, 20, 1, 72, 60, 10, 2);
    count(&x, 25, 1, 72, 66, 4, 2);
    count(&x, 24, 1, 72, 10, 60, 2); /* written down later, but dated before */
    const struct cot_stand *s = sum(&x);
    ck_assert(s->usable == 66 && s->looked == 72 && s->trays_counted == 1 && s->counted == 25);
    ck_assert_int_eq(s->unseen, 648);
    double rate = s->rate;
    bench_new(&x, 10, 72);
    count(&x, 25, 1, 72, 66, 4, 2);
    ck_assert_double_eq_tol(sum(&x)->rate, rate, 1e-12);
}
END_TEST

START_TEST(part_of_a_tray)
{
    struct bench x;
    bench_new(&x, 10, 72);
    count(&x, 20, 4, 24, 20, 4, 0);
    const struct cot_stand *s = sum(&x);
    ck_assert(s->fixed == 20 && s->unseen == 720 - 24 && s->looked == 24);
    int64_t likely = s->likely; /* cells like each other or not, 20 of 24 is lower than 90 % */
    x.in.work_len = 0;
    ck_assert_int_lt(likely, sum(&x)->likely);
}
END_TEST

START_TEST(usable_follows_from_the_rest)
{
    struct bench x;
    bench_new(&x, 1, 72);
    count(&x, 20, 1, 72, U, 5, 3);
    const struct cot_stand *s = sum(&x);
    ck_assert(s->usable == 64 && !s->bounded && s->likely == 64);
}
END_TEST

START_TEST(blanks_only)
{
    struct bench x;
    bench_new(&x, 2, 72);
    count(&x, 20, 1, 72, U, 12, U);
    const struct cot_stand *s = sum(&x);
    ck_assert(s->bounded && s->usable == 60 && s->survivors == 60 && s->fixed == 0 && s->unseen == 72);
    ck_assert_int_le(cot_stand_at(s, 0.9999), 60 + 72);
    ck_assert_double_eq_tol(cot_mix_mean(&s->now), cot_mix_mean(&s->left) + 60 * 0.95, 1e-4);
    double rate = s->rate;
    bench_new(&x, 2, 72);
    count(&x, 20, 1, 72, 57, 15, 0); /* 60 x 0.95 usable teach the same */
    ck_assert_double_eq_tol(sum(&x)->rate, rate, 1e-12);
    bench_new(&x, 2, 72);
    count(&x, 20, 1, 72, U, 12, U);

    count(&x, 21, 1, 72, 58, 12, 2); /* then the tray is counted in full */
    s = sum(&x);
    ck_assert(!s->bounded && s->survivors == 0 && s->fixed == 58);
}
END_TEST

START_TEST(pooled_counts)
{
    struct bench x;
    bench_new(&x, 10, 72);
    pooled(&x, 20, 288, 260, 20);
    const struct cot_stand *s = sum(&x);
    ck_assert(s->fixed == 260 && s->unseen == 432 && s->looked == 288 && s->trays_counted == 0);
    ck_assert(s->rate > 0.9 && s->rate < 260 / 288.0);

    pooled(&x, 22, 360, 333, 20); /* replaces the earlier */
    s = sum(&x);
    ck_assert(s->fixed == 333 && s->unseen == 360);

    count(&x, 23, 1, 72, 70, 2, 0); /* a tray by number beside it */
    s = sum(&x);
    ck_assert(s->fixed == 403 && s->unseen == 288);

    pooled(&x, 25, 720, 650, 70); /* all of them: what was counted by number before is in it */
    s = sum(&x);
    ck_assert(s->fixed == 650 && s->unseen == 0 && s->likely == 650 && s->trays_counted == 0);

    count(&x, 26, 2, 72, 60, 12, 0); /* a tray counted again takes its share of the pool's place */
    s = sum(&x);
    ck_assert_int_eq(s->fixed, 60 + 650 * 648 / 720);
    ck_assert_int_eq(s->unseen, 0);
}
END_TEST

START_TEST(tray_that_is_not_there)
{
    struct bench x;
    bench_new(&x, 2, 72);
    count(&x, 20, 3, 72, 70, 2, 0);
    count(&x, 20, 0, 72, 70, 2, 0);
    static const int32_t none[] = {-1, 0, 3, 1000};
    lose_which(&x, 20, none, 4);
    const struct cot_stand *s = sum(&x);
    ck_assert(s->looked == 0 && s->unseen == 144 && s->lost == 0);
}
END_TEST

/* --- Losses, potting on, patching ------------------------------------------------------------------------------------
 */
START_TEST(loss_before_and_after_counts)
{
    struct bench x;
    bench_new(&x, 2, 72);
    lose_plants(&x, 10, 20);
    count(&x, 20, 1, 72, 66, 6, 0);
    count(&x, 20, 2, 72, 70, 2, 0);
    const struct cot_stand *s = sum(&x);
    ck_assert(s->likely == 136 && s->lost == 0); /* seen in the count */

    lose_plants(&x, 22, 20);
    s = sum(&x);
    ck_assert(s->likely == 116 && s->lost == 20);

    work(&x, COT_WORK_LOST, 23)->plants = 30; /* not usable ones: they were not counted among the usable */
    x.work[x.in.work_len - 1].were_usable = false;
    ck_assert_int_eq(sum(&x)->likely, 116);

    lose_plants(&x, 24, 5000);
    s = sum(&x);
    ck_assert(s->likely == 0 && s->count_on == 0);
}
END_TEST

START_TEST(loss_spread_over_the_batch)
{
    struct bench x;
    bench_new(&x, 10, 72);
    lose_plants(&x, 10, 100);
    ck_assert_int_eq(sum(&x)->fixed, -100);
    for (int t = 1; t <= 4; t++) count(&x, 20, t, 72, 60, 12, 0);
    const struct cot_stand *s = sum(&x); /* 4 trays of 10 have been seen since */
    ck_assert_int_eq(s->fixed, 240 - 60);
    ck_assert_int_eq(s->lost, 60);
}
END_TEST

START_TEST(trays_lost_by_number)
{
    struct bench x;
    static const int32_t which[] = {1, 2};
    bench_new(&x, 10, 72);
    count(&x, 20, 1, 72, 66, 6, 0);
    lose_which(&x, 22, which, 2);
    const struct cot_stand *s = sum(&x);
    ck_assert(s->fixed == 0 && s->unseen == 8 * 72 && s->most == 8 * 72);
    ck_assert_int_eq(s->lost, 66 + 65);
    ck_assert_double_gt(s->rate, 0.9); /* what it taught of the rate stays */

    lose_which(&x, 23, which, 2); /* the same trays once more */
    s = sum(&x);
    ck_assert_int_eq(s->unseen, 8 * 72);

    count(&x, 25, 1, 72, 50, 22, 0); /* counted afterwards: it was there */
    s = sum(&x);
    ck_assert(s->fixed == 50 && s->unseen == 8 * 72);
}
END_TEST

START_TEST(trays_lost_without_numbers)
{
    struct bench x;
    bench_new(&x, 10, 72);
    count(&x, 20, 1, 72, 60, 12, 0);
    count(&x, 20, 2, 72, 70, 2, 0);
    lose_trays(&x, 22, 2);
    const struct cot_stand *s = sum(&x); /* each of the ten may have been it */
    ck_assert_int_eq(s->fixed, 130 - 26);
    ck_assert_int_eq(s->unseen, 576 - 116);
    ck_assert_int_eq(s->most, 8 * 72);

    bench_new(&x, 4, 72);
    lose_trays(&x, 10, 1);
    for (int t = 1; t <= 3; t++) count(&x, 20, t, 72, 66, 6, 0);
    s = sum(&x); /* three were seen since, so it was the fourth */
    ck_assert(s->fixed == 198 && s->unseen == 0 && s->likely == 198);

    lose_trays(&x, 25, 9); /* no more than there are */
    s = sum(&x);
    ck_assert(s->likely == 0 && s->most >= 0);
}
END_TEST

START_TEST(plants_lost_in_named_trays)
{
    struct bench x;
    static const int32_t which[] = {1, 2};
    bench_new(&x, 3, 72);
    lose_which(&x, 10, which, 2);
    x.work[0].plants = 30;
    count(&x, 20, 1, 72, 50, 22, 0);
    const struct cot_stand *s = sum(&x); /* half of it is seen in tray 1's count */
    ck_assert(s->fixed == 50 - 15 && s->unseen == 144 && s->most == 216);
}
END_TEST

START_TEST(pool_and_lost_tray)
{
    struct bench x;
    static const int32_t which[] = {3};
    bench_new(&x, 4, 72);
    pooled(&x, 20, 288, 256, 32);
    lose_which(&x, 22, which, 1);
    const struct cot_stand *s = sum(&x);
    ck_assert(s->fixed == 192 && s->unseen == 0 && s->likely == 192 && s->lost == 64);

    bench_new(&x, 4, 72);
    lose_which(&x, 18, which, 1);
    pooled(&x, 20, 216, 200, 16); /* the three that were left */
    s = sum(&x);
    ck_assert(s->fixed == 200 && s->unseen == 0 && s->likely == 200);

    bench_new(&x, 4, 72);
    pooled(&x, 20, 288, 256, 32);
    lose_trays(&x, 22, 1);
    s = sum(&x);
    ck_assert(s->fixed == 192 && s->unseen == 0);
}
END_TEST

START_TEST(patched)
{
    struct bench x;
    bench_new(&x, 2, 72);
    count(&x, 20, 1, 72, 60, 10, 2);
    count(&x, 20, 2, 72, 70, 2, 0);
    work(&x, COT_WORK_PATCHED, 21)->plants = 8;
    ck_assert_int_eq(sum(&x)->likely, 138);
    work(&x, COT_WORK_PATCHED, 22)->plants = 50; /* only 12 blanks there were */
    ck_assert_int_eq(sum(&x)->likely, 142);
    count(&x, 25, 1, 72, 69, 1, 2); /* seen in the new count: 8 x 1/2 and what still fits */
    const struct cot_stand *s = sum(&x);
    ck_assert_int_eq(s->fixed, 139 + 2);
}
END_TEST

/* What left with a tray, or is in a later count, is not taken off once more. */
START_TEST(loss_then_tray_thrown_out)
{
    struct bench x;
    static const int32_t ninth[] = {9};
    bench_new(&x, 10, 72);
    for (int t = 1; t <= 10; t++) count(&x, 20, t, 72, 65, 7, 0);
    lose_which(&x, 22, ninth, 1);
    x.work[x.in.work_len - 1].plants = 40;
    ck_assert_int_eq(sum(&x)->likely, 610);
    lose_which(&x, 24, ninth, 1); /* the 25 that were left in it */
    const struct cot_stand *s = sum(&x);
    ck_assert(s->likely == 585 && s->lost == 65);

    bench_new(&x, 10, 72);
    for (int t = 1; t <= 10; t++) count(&x, 20, t, 72, 65, 7, 0);
    lose_plants(&x, 22, 300);
    lose_which(&x, 24, ninth, 1); /* took 30 of the 300 with it */
    ck_assert_int_eq(sum(&x)->likely, 9 * 65 - 270);
    lose_trays(&x, 26, 3);
    s = sum(&x);
    ck_assert(s->likely == 6 * 65 - 180 && s->lost == 650 - s->likely);
    lose_plants(&x, 28, 60);
    lose_trays(&x, 29, 3); /* half of the six */
    ck_assert_int_eq(sum(&x)->likely, 3 * 65 - 90 - 30);

    bench_new(&x, 10, 72); /* the same where nothing was counted */
    lose_plants(&x, 22, 300);
    lose_trays(&x, 24, 5);
    s = sum(&x);
    ck_assert(s->fixed == -150 && s->unseen == 360);
}
END_TEST

/* A count after a loss shows it, and it is taken off the other trays too: the rate must not hold it a third time. */
START_TEST(loss_does_not_teach_the_rate)
{
    struct bench x;
    bench_new(&x, 10, 72);
    lose_plants(&x, 18, 200);
    for (int t = 1; t <= 5; t++) count(&x, 20, t, 72, 45, 27, 0); /* 65 less 20 */
    const struct cot_stand *s = sum(&x);
    ck_assert(s->likely >= 445 && s->likely <= 455);

    bench_new(&x, 10, 72); /* 200 gone, but not from these five: they are as good as ever */
    lose_plants(&x, 18, 200);
    for (int t = 1; t <= 5; t++) count(&x, 20, t, 72, 65, 7, 0);
    s = sum(&x);
    ck_assert(s->rate >= 0.9 && s->rate < 0.93);

    bench_new(&x, 10, 72); /* patched full, then counted: the others are not full for that */
    static const int32_t which[] = {1, 2, 3};
    struct cot_work *w = work(&x, COT_WORK_PATCHED, 18);
    w->plants = 21;
    w->which = which;
    w->which_len = 3;
    for (int t = 1; t <= 3; t++) count(&x, 20, t, 72, 72, 0, 0);
    s = sum(&x);
    ck_assert_double_eq_tol(s->rate, 0.9, 0.01);
    pooled(&x, 25, 720, 720, 0);
    ck_assert_int_eq(sum(&x)->likely, 720);
}
END_TEST

START_TEST(loss_after_tray_thrown_out)
{
    struct bench x;
    static const int32_t first[] = {1};
    bench_new(&x, 10, 72);
    lose_which(&x, 10, first, 1);
    lose_plants(&x, 12, 90); /* on the nine that were left, and all nine were counted since */
    for (int t = 2; t <= 10; t++) count(&x, 20, t, 72, 65, 7, 0);
    ck_assert_int_eq(sum(&x)->likely, 585);
}
END_TEST

START_TEST(named_loss_seen_in_pool)
{
    struct bench x;
    static const int32_t third[] = {3};
    bench_new(&x, 10, 72);
    lose_which(&x, 15, third, 1);
    x.work[0].plants = 40;
    pooled(&x, 18, 720, 650, 70);
    ck_assert_int_eq(sum(&x)->likely, 650);

    bench_new(&x, 10, 72);
    lose_which(&x, 15, third, 1);
    x.work[0].plants = 40;
    pooled(&x, 18, 360, 325, 35); /* half of the cells */
    ck_assert_int_eq(sum(&x)->fixed, 325 - 20);

    bench_new(&x, 10, 72);
    count(&x, 14, 3, 72, 66, 6, 0);
    lose_which(&x, 15, third, 1);
    x.work[1].plants = 30;
    count(&x, 18, 3, 24, 12, 12, 0); /* a third of the tray */
    ck_assert_int_eq(sum(&x)->fixed, 12 - 20);
}
END_TEST

START_TEST(patched_tray_by_tray)
{
    struct bench x;
    static const int32_t one[] = {1}, two[] = {2};
    bench_new(&x, 2, 72);
    count(&x, 20, 1, 72, 67, 5, 0);
    count(&x, 20, 2, 72, 67, 5, 0);
    for (int i = 0; i < 2; i++) {
        struct cot_work *w = work(&x, COT_WORK_PATCHED, 21 + i);
        w->plants = 5;
        w->which = i ? two : one;
        w->which_len = 1;
    }
    ck_assert_int_eq(sum(&x)->likely, 144);
    struct cot_work *w = work(&x, COT_WORK_PATCHED, 23); /* tray 1 is full */
    w->plants = 5;
    w->which = one;
    w->which_len = 1;
    ck_assert_int_eq(sum(&x)->likely, 144);
    lose_which(&x, 25, one, 1); /* and its patches go with it */
    ck_assert_int_eq(sum(&x)->likely, 72);
}
END_TEST

START_TEST(what_went_out)
{
    struct bench x;
    bench_new(&x, 1, 72);
    count(&x, 20, 1, 72, 60, 12, 0);
    x.s.out = 40;
    const struct cot_stand *s = sum(&x);
    ck_assert(s->likely == 60 && !s->over);
    x.s.out = 72;
    s = sum(&x);
    ck_assert(s->likely == 72 && s->count_on == 72 && s->over);

    bench_new(&x, 1, 72); /* not counted: a few above the middle surprise nobody */
    x.s.out = 68;
    s = sum(&x);
    ck_assert(s->likely == 68 && !s->over);
    x.s.out = 72;
    ck_assert(sum(&x)->over);
}
END_TEST

/* A batch of a billion cells is read at once, and its rate is kept. */
START_TEST(huge_batch)
{
    struct bench x;
    bench_new(&x, 100000, 10000);
    const struct cot_stand *s = sum(&x);
    double low = cot_ibeta_inv(90, 10, 0.1), middle = cot_ibeta_inv(90, 10, 0.5);
    ck_assert_double_eq_tol((double)s->likely / 1e9, middle, 3e-3);
    ck_assert_double_eq_tol((double)s->count_on / 1e9, low, 3e-3);
}
END_TEST

/* --- Properties ------------------------------------------------------------------------------------------------------
 */
static int32_t some_trays[] = {2, 5, 6};

static void random_work(struct dice *d, struct bench *x)
{
    int n = (int)dice_int(d, 0, 14);
    for (int i = 0; i < n; i++) {
        int32_t day = (int32_t)dice_int(d, 1, 8), looked = (int32_t)dice_int(d, 1, 72),
                tray = (int32_t)dice_int(d, 1, 8);
        int32_t usable = (int32_t)dice_int(d, 0, looked), blanks = (int32_t)dice_int(d, 0, looked - usable);
        switch (dice_int(d, 0, 6)) {
        case 0:
            pooled(x, day, looked * 4, usable * 4, blanks * 4);
            break;
        case 1:
            lose_plants(x, day, dice_int(d, 0, 200));
            break;
        case 2:
            lose_trays(x, day, dice_int(d, 1, 3));
            break;
        case 3:
            lose_which(x, day, some_trays, (size_t)dice_int(d, 1, 3));
            break;
        case 4:
            work(x, COT_WORK_PATCHED, day)->plants = dice_int(d, 1, 60);
            break;
        case 5:
            count(x, day, tray, looked, U, blanks, U);
            break;
        default:
            count(x, day, tray, looked, usable, blanks, looked - usable - blanks);
            break;
        }
    }
}

START_TEST(any_order_same_stand)
{
    struct dice d = dice_new("any_order_same_stand");
    for (int round = 0; round < 1000; round++) {
        struct bench x, y;
        bench_new(&x, 8, 72);
        random_work(&d, &x);
        x.s.out = dice_int(&d, 0, 100);
        y = x;
        y.in.work = y.work;
        for (size_t i = y.in.work_len; i-- > 1;) {
            size_t k = (size_t)dice_int(&d, 0, (int64_t)i);
            struct cot_work t = y.work[i];
            y.work[i] = y.work[k];
            y.work[k] = t;
        }
        const struct cot_stand *s = sum(&x), *t = sum(&y);
        ck_assert_int_eq(s->likely, t->likely);
        ck_assert_int_eq(s->count_on, t->count_on);
        ck_assert_int_eq(s->fixed, t->fixed);
        ck_assert_int_eq(s->unseen, t->unseen);
        ck_assert(s->rate == t->rate && s->sa == t->sa && s->sb == t->sb);
    }
}
END_TEST

START_TEST(levels_and_bounds)
{
    struct dice d = dice_new("levels_and_bounds");
    for (int round = 0; round < 1000; round++) {
        struct bench x;
        int64_t level[51], before = 0;
        bench_new(&x, 8, 72);
        random_work(&d, &x);
        x.s.out = dice_int(&d, 0, 100);
        const struct cot_stand *s = sum(&x);
        ck_assert_int_eq(cot_stand_levels(s, 51, level), COT_OK);
        for (int i = 0; i < 51; i++) {
            sure(level[i] == cot_stand_at(s, (2 * i + 1) / 102.0));
            sure(level[i] >= before && level[i] >= s->out);
            sure(level[i] <= (s->most > s->out ? s->most : s->out));
            before = level[i];
        }
        ck_assert(s->unseen >= 0 && s->survivors >= 0 && s->most >= 0 && s->unseen <= s->cells);
        ck_assert_int_le(s->count_on, s->likely);
    }
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
    Suite *s = suite_create("core/stand/calc");
    add(s, "rate", rate_of_a_lot);
    add(s, "rate_beta", rate_as_beta);
    add(s, "emergence", emergence_by_day);
    add(s, "not_counted", not_counted);
    add(s, "all_counted", all_counted);
    add(s, "counted_again", counted_again);
    add(s, "part", part_of_a_tray);
    add(s, "follows", usable_follows_from_the_rest);
    add(s, "blanks", blanks_only);
    add(s, "pooled", pooled_counts);
    add(s, "no_such_tray", tray_that_is_not_there);
    add(s, "loss", loss_before_and_after_counts);
    add(s, "loss_spread", loss_spread_over_the_batch);
    add(s, "trays_named", trays_lost_by_number);
    add(s, "trays_nameless", trays_lost_without_numbers);
    add(s, "plants_named", plants_lost_in_named_trays);
    add(s, "pool_lost", pool_and_lost_tray);
    add(s, "patched", patched);
    add(s, "loss_thrown", loss_then_tray_thrown_out);
    add(s, "loss_no_teacher", loss_does_not_teach_the_rate);
    add(s, "thrown_loss", loss_after_tray_thrown_out);
    add(s, "loss_in_pool", named_loss_seen_in_pool);
    add(s, "patched_trays", patched_tray_by_tray);
    add(s, "out", what_went_out);
    add(s, "huge", huge_batch);
    add(s, "any_order", any_order_same_stand);
    add(s, "levels", levels_and_bounds);
    return s;
}
