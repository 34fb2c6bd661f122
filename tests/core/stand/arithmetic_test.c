/* docs/arithmetic.md: every worked example on the page is computed here again, and must stand there word for word. */

#include "../page.h"
#include "stand/calc.h"
#include "stand/lore.h"
#include "cotyledger/core/fill.h"
#include "cotyledger/core/prob.h"
#include "../season.h"

#define SOWN 20900 /* 2027-03-23 */

/* --- One batch
 * ------------------------------------------------------------------------------------------------------------ */
static struct cot_work work[8];
static struct cot_tray_count counts[8];

static struct cot_work *add_work(struct cot_stand_in *in, enum cot_work_what what, int32_t day)
{
    struct cot_work *w = &work[in->work_len++];
    *w = (struct cot_work){.what = what, .day = day, .plants = COT_COUNT_UNKNOWN, .were_usable = true};
    return w;
}

static void add_count(struct cot_stand_in *in, int32_t day, int32_t tray, int32_t usable, int32_t blanks, int32_t culls)
{
    struct cot_work *w = add_work(in, COT_WORK_COUNT, day);
    counts[in->work_len - 1] = (struct cot_tray_count){tray, 72, usable, blanks, culls, COT_COUNT_UNKNOWN};
    w->counts = &counts[in->work_len - 1];
    w->count_len = 1;
}

static struct cot_stand_in ten_trays(void)
{
    struct cot_rate_known k = {.test_seeds = 400,
                               .test_germ = 372,
                               .label = -1,
                               .assumed_seeds = 100,
                               .lawful = -1,
                               .emergence = 1000,
                               .usable = 950};
    struct cot_stand_in in = {.trays = 10,
                              .tray_cells = 72,
                              .cells = 720,
                              .usable_share = 0.95,
                              .count_day = 14,
                              .emergence = {.median = 7, .median_sd = 0.15, .spread = 0.25},
                              .work = work};
    const struct cot_kin kin = {.potted = false};
    struct cot_odds lot;
    struct cot_before before;
    (void)cot_rate_before(&k, &lot);
    cot_lore_before(NULL, &kin, &lot, NULL, &before); /* a house without history */
    in.before = before.x;
    memcpy(in.rho_weight, before.spread.rho_weight, sizeof in.rho_weight);
    return in;
}

static void put_stand(const struct cot_stand_in *in)
{
    struct cot_stand s = {.counted = COT_DAY_NONE};
    ck_assert_int_eq(cot_stand_sum(in, &s, NULL), COT_OK);
    cot_stand_finish(&s, 900);
    put("seen usable, losses taken off    %5ld plants\n", (long)s.fixed);
    put("cells not looked at              %5ld cells\n", (long)s.unseen);
    if (s.to_come > 0) put("blanks that may still come up    %5ld cells\n", (long)s.to_come);
    put("rate expected of cells not seen  %7.1f %%\n", 100 * s.rate);
    put("likely                           %5ld plants\n", (long)s.likely);
    put("count on, 9 in 10                %5ld plants\n", (long)s.count_on);
}

START_TEST(before_any_count)
{
    struct cot_stand_in in = ten_trays();
    put_stand(&in);
    compare("sown");
}
END_TEST

START_TEST(three_trays_counted)
{
    struct cot_stand_in in = ten_trays();
    add_count(&in, 14, 2, 66, 4, 2);
    add_count(&in, 14, 5, 70, 2, 0);
    add_count(&in, 14, 9, 61, 9, 2);
    put_stand(&in);
    compare("counted");
}
END_TEST

/* The same number of plants in trays that differ more. */
START_TEST(unlike_trays_counted)
{
    struct cot_stand_in in = ten_trays();
    add_count(&in, 14, 2, 69, 2, 1);
    add_count(&in, 14, 5, 72, 0, 0);
    add_count(&in, 14, 9, 56, 13, 3);
    put_stand(&in);
    compare("unlike");
}
END_TEST

START_TEST(counted_before_the_day)
{
    struct cot_stand_in in = ten_trays();
    add_count(&in, 8, 2, 44, 28, 0);
    add_count(&in, 8, 5, 49, 23, 0);
    put_stand(&in);
    compare("early");
}
END_TEST

START_TEST(losses_to_come)
{
    struct cot_stand_in in = ten_trays();
    add_count(&in, 14, 2, 66, 4, 2);
    add_count(&in, 14, 5, 70, 2, 0);
    add_count(&in, 14, 9, 61, 9, 2);
    struct cot_stand t = {.counted = COT_DAY_NONE, .later_share = 0.03};
    ck_assert_int_eq(cot_stand_sum(&in, &t, NULL), COT_OK);
    cot_stand_finish(&t, 900);
    put("likely today                     %5ld plants\n", (long)t.likely_today);
    put("expected to be lost until ready  %5ld plants\n", (long)t.later);
    put("likely on the collecting day     %5ld plants\n", (long)t.likely);
    put("count on then, 9 in 10           %5ld plants\n", (long)t.count_on);
    compare("later");
}
END_TEST

START_TEST(counted_again_and_lost)
{
    struct cot_stand_in in = ten_trays();
    add_count(&in, 14, 2, 66, 4, 2);
    add_count(&in, 14, 5, 70, 2, 0);
    add_count(&in, 14, 9, 61, 9, 2);
    add_count(&in, 17, 9, 65, 5, 2);
    add_work(&in, COT_WORK_LOST, 18)->plants = 40;
    put_stand(&in);
    compare("lost");
}
END_TEST

START_TEST(blanks_only)
{
    static struct cot_tray_count all[10];
    struct cot_stand_in in = ten_trays();
    struct cot_work *w = add_work(&in, COT_WORK_COUNT, 14);
    for (int32_t tray = 1; tray <= 10; tray++)
        all[tray - 1] = (struct cot_tray_count){tray, 72, COT_COUNT_UNKNOWN, 6, COT_COUNT_UNKNOWN, COT_COUNT_UNKNOWN};
    w->counts = all;
    w->count_len = 10;
    struct cot_stand t = {.counted = COT_DAY_NONE};
    ck_assert_int_eq(cot_stand_sum(&in, &t, NULL), COT_OK);
    cot_stand_finish(&t, 900);
    put("cells that are not blank         %5ld, so at most so many plants\n", (long)t.survivors);
    put("likely                           %5ld plants\n", (long)t.likely);
    put("count on, 9 in 10                %5ld plants\n", (long)t.count_on);
    compare("blanks");
}
END_TEST

/* --- Lines
 * ------------------------------------------------------------------------------------------------------------------ */
static struct season s;
static struct cot_id crop, variety, format, lot, alder, birch;

static void season_start(void)
{
    season_new(&s, 3);
    crop = add_crop(&s, "Lettuce", 28, 35);
    variety = add_variety(&s, "Red Harbour", &crop);
    format = add_format(&s, "72 square", 6, 12);
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    alder = add_named(&s, COT_K_FARM, "Alder Ford");
    birch = add_named(&s, COT_K_FARM, "Birch Lane");
}

static void add_line(const struct cot_id *farm, int plants)
{
    start_line(&s, farm, &variety, plants, SOWN + 28);
    struct cot_id id = *done(&s);
    promise(&s, &id, farm, plants);
}

static void add_batch(int trays)
{
    start_sown(&s, &lot, &format, trays, SOWN);
    done(&s);
}

static void put_lines(struct cot_book *b, struct cot_fill *f)
{
    ck_assert_int_eq(cot_fill_read(b, SOWN + 5, f), COT_OK);
    put("farm         wanted  likely  count on  chance\n");
    for (uint32_t i = 0; i < f->line_count; i++) {
        const struct cot_fill_line *l = &f->line[i];
        put("%-12s %6ld  %6ld  %8ld  %4.0f %%  %s\n", cot_thing_name(l->farm), (long)l->wanted, (long)l->likely,
            (long)l->count_on, 100 * l->chance, cot_fill_word(l->verdict));
    }
}

START_TEST(two_lines)
{
    struct cot_fill f;
    season_start();
    add_batch(10);
    add_line(&alder, 400);
    add_line(&birch, 230);
    add_line(&birch, 60);
    struct cot_book *b = season_book(&s, NULL);
    put_lines(b, &f);
    compare("lines");
    cot_fill_free(&f);
    cot_book_free(b);
    season_free(&s);
}
END_TEST

/* Two batches that serve one line each, of one farm: the farm's number is not the sum of the lines'. */
START_TEST(numbers_do_not_add)
{
    struct cot_fill f;
    season_start();
    struct cot_id deep = add_format(&s, "50 deep", 5, 10);
    add_batch(6);
    start_sown(&s, &lot, &deep, 9, SOWN);
    done(&s);
    start_line(&s, &alder, &variety, 380, SOWN + 28);
    point(&s, COT_F_FORMAT, &format);
    struct cot_id one = *done(&s);
    promise(&s, &one, &alder, 380);
    start_line(&s, &alder, &variety, 395, SOWN + 28);
    point(&s, COT_F_FORMAT, &deep);
    struct cot_id two = *done(&s);
    promise(&s, &two, &alder, 395);
    struct cot_book *b = season_book(&s, NULL);
    put_lines(b, &f);
    put("both lines   %6ld  %6ld  %8ld\n", (long)f.farm[0].wanted, (long)f.farm[0].likely, (long)f.farm[0].count_on);
    put("the two lines' own numbers added: %ld\n", (long)(f.line[0].count_on + f.line[1].count_on));
    ck_assert_int_gt(f.farm[0].count_on, f.line[0].count_on + f.line[1].count_on);
    compare("sums");
    cot_fill_free(&f);
    cot_book_free(b);
    season_free(&s);
}
END_TEST

static void start_text(void)
{
    example_used = 0;
    example_text[0] = '\0';
}

static void add(Suite *suite, const char *example, const TTest *test)
{
    TCase *c = tcase_create(example);
    tcase_add_checked_fixture(c, start_text, NULL);
    tcase_set_timeout(c, 60);
    tcase_add_test(c, test);
    suite_add_tcase(suite, c);
}

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/arithmetic");
    add(suite, "sown", before_any_count);
    add(suite, "counted", three_trays_counted);
    add(suite, "unlike", unlike_trays_counted);
    add(suite, "early", counted_before_the_day);
    add(suite, "later", losses_to_come);
    add(suite, "lost", counted_again_and_lost);
    add(suite, "blanks", blanks_only);
    add(suite, "lines", two_lines);
    add(suite, "sums", numbers_do_not_add);
    return suite;
}
