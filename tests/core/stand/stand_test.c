/* server/core/stand/stand.c, book/handovers.c: the stand read from a book. The figures are in calc_test.c. */
#include "cotyledger/core/rate.h"
#include "stand/stand.h"
#include "cotyledger/core/fill.h"
#include "cotyledger/core/prob.h"
#include "../season.h"

static struct season s;
static struct cot_id crop, variety, format, lot, batch, farm, line;
static struct cot_book *book;

#define SOWN 20900 /* 2027-03-23 */

static void setup(void)
{
    season_new(&s, 1);
    crop = add_crop(&s, "Lettuce", 28, 35);
    variety = add_variety(&s, "Red Harbour", &crop);
    format = add_format(&s, "72 square", 6, 12);
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    farm = add_named(&s, COT_K_FARM, "Alder Ford");
    start_sown(&s, &lot, &format, 10, SOWN);
    batch = *done(&s);
    start_line(&s, &farm, &variety, 400, SOWN + 30);
    line = *done(&s);
    book = NULL;
}

static void teardown(void)
{
    cot_book_free(book);
    season_free(&s);
}

static struct cot_stand stand_of(const struct cot_id *id, int32_t on)
{
    struct cot_stand out;
    cot_book_free(book);
    book = season_book(&s, NULL);
    const struct cot_thing *t = cot_book_thing(book, id);
    ck_assert_ptr_nonnull(t);
    ck_assert_int_eq(cot_stand_read(book, t, on, &out), COT_OK);
    return out;
}

static void start_work(enum cot_kind kind, const struct cot_id *of, int32_t day)
{
    make(&s, kind);
    about(&s, of);
    say(&s, COT_F_DAY, day);
}

static struct cot_tray_count counted[16];
static size_t counted_used;

static struct cot_id count_tray(int32_t tray, int32_t usable, int32_t day)
{
    counted[counted_used] = (struct cot_tray_count){tray, 72, usable, 72 - usable, 0, 1};
    start_work(COT_K_COUNT, &batch, day);
    ck_assert(cot_fact_set_counts(&s.next, COT_F_COUNTS, &counted[counted_used++], 1));
    return *done(&s);
}

START_TEST(sown_only)
{
    struct cot_stand t = stand_of(&batch, SOWN + 5);
    ck_assert(t.sown == SOWN && t.ready == SOWN + 28 && t.past == SOWN + 35);
    ck_assert(t.trays == 10 && t.cells == 720 && t.unseen == 720 && t.looked == 0);
    ck_assert(t.basis == COT_BASIS_TEST && t.provisional && !t.held && t.untreated && !t.organic);
    ck_assert_int_eq(cot_id_cmp(&t.variety, &variety), 0);
    ck_assert_int_eq(cot_id_cmp(&t.format, &format), 0);
    ck_assert_int_eq(cot_id_cmp(&t.lot, &lot), 0);
    ck_assert_double_eq_tol(t.rate, 0.95 * 373 / 402, 0.01);
    ck_assert(t.learned == 0 && t.likely < t.likely_today && t.later > 0); /* 1 % may still be lost */
    ck_assert_int_eq(t.count_on, cot_stand_at(&t, 0.1));
}
END_TEST

START_TEST(counts_by_day)
{
    struct cot_id first = count_tray(1, 60, SOWN + 9);
    count_tray(1, 66, SOWN + 13);
    count_tray(2, 70, SOWN + 13);
    struct cot_stand t = stand_of(&batch, SOWN + 9);
    ck_assert(t.usable == 60 && t.provisional && t.counted == SOWN + 9); /* the later counts are not known yet */
    t = stand_of(&batch, SOWN + 20);
    ck_assert(t.usable == 136 && t.trays_counted == 2 && t.doubles == 2 && !t.provisional && t.looked == 144);

    make(&s, COT_K_TAKEN_BACK);
    about(&s, &first);
    done(&s);
    t = stand_of(&batch, SOWN + 10);
    ck_assert(t.looked == 0 && t.counted == COT_DAY_NONE);
}
END_TEST

START_TEST(pooled_count_and_losses)
{
    start_work(COT_K_COUNT, &batch, SOWN + 14);
    say(&s, COT_F_TRAYS, 10);
    say(&s, COT_F_LOOKED, 720);
    say(&s, COT_F_USABLE, 640);
    say(&s, COT_F_BLANKS, 60);
    say(&s, COT_F_CULLS, 20);
    done(&s);
    start_work(COT_K_LOST, &batch, SOWN + 16);
    say(&s, COT_F_PLANTS, 40);
    name(&s, COT_F_WHY, "slugs");
    done(&s);
    start_work(COT_K_PATCHED, &batch, SOWN + 17);
    say(&s, COT_F_PLANTS, 15);
    done(&s);
    start_work(COT_K_THINNED, &batch, SOWN + 17);
    say(&s, COT_F_PLANTS, 30);
    done(&s);
    struct cot_stand t = stand_of(&batch, SOWN + 20);
    ck_assert(t.usable == 640 && t.lost == 40 && t.fixed == 615 && t.unseen == 0 && t.likely_today == 615);
    ck_assert(t.likely > 605 && t.likely < 615 && t.count_on < t.likely); /* half of 1 % may still be lost */
    t = stand_of(&batch, SOWN + 28);
    ck_assert(t.likely == 615 && t.count_on == 615);
    t = stand_of(&batch, SOWN + 15);
    ck_assert_int_eq(t.likely_today, 640);
}
END_TEST

START_TEST(potted_on)
{
    struct cot_id big = add_format(&s, "24 deep", 4, 6);
    make(&s, COT_K_POTTED);
    new_code(&s);
    point(&s, COT_F_BATCH, &batch);
    point(&s, COT_F_FORMAT, &big);
    say(&s, COT_F_TRAYS, 10);
    say(&s, COT_F_PLANTS, 200);
    say(&s, COT_F_LOST, 6);
    say(&s, COT_F_DAY, SOWN + 20);
    struct cot_id child = *done(&s);
    struct cot_stand t = stand_of(&child, SOWN + 25);
    ck_assert(t.cells == 200 && t.unseen == 200 && t.basis == COT_BASIS_POTTED && t.most == 200);
    ck_assert(t.ready == SOWN + 34 && t.past == SOWN + 41); /* half of 28 days from potting on */
    ck_assert_int_eq(cot_id_cmp(&t.variety, &variety), 0);
    ck_assert_int_eq(cot_id_cmp(&t.parent, &batch), 0);
    ck_assert_double_eq_tol(t.rate, 0.98, 0.005);
    t = stand_of(&batch, SOWN + 25);
    ck_assert_int_eq(t.lost, 206);
    ck_assert_int_eq(stand_of(&batch, SOWN + 19).lost, 0);

    /* Eight trays counted, all full: 8 plants are left for the other two, whatever cells these have. */
    static struct cot_tray_count full[8];
    for (int32_t i = 0; i < 8; i++) full[i] = (struct cot_tray_count){i + 1, 24, 24, 0, 0, 0};
    start_work(COT_K_COUNT, &child, SOWN + 24);
    ck_assert(cot_fact_set_counts(&s.next, COT_F_COUNTS, full, 8));
    done(&s);
    t = stand_of(&child, SOWN + 25);
    ck_assert(t.fixed == 192 && t.unseen == 8 && t.likely_today == 200);
}
END_TEST

START_TEST(rows_of_a_shared_tray)
{
    make(&s, COT_K_SOWN);
    new_code(&s);
    point(&s, COT_F_LOT, &lot);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_TRAY_ROWS, 2);
    name(&s, COT_F_SHARED, "odds and ends");
    say(&s, COT_F_DAY, SOWN);
    struct cot_id rows = *done(&s);
    struct cot_stand t = stand_of(&rows, SOWN + 1);
    ck_assert(t.trays == 0 && t.cells == 24 && t.unseen == 24 && t.most == 24);
}
END_TEST

START_TEST(holding)
{
    ck_assert(!stand_of(&batch, SOWN + 1).held);
    start_work(COT_K_HELD, &batch, SOWN + 2);
    say(&s, COT_F_UNTIL, SOWN + 9);
    name(&s, COT_F_WHY, "spots on leaves");
    done(&s);
    ck_assert(!stand_of(&batch, SOWN + 1).held);
    ck_assert(stand_of(&batch, SOWN + 9).held);
    ck_assert(!stand_of(&batch, SOWN + 10).held);
    start_work(COT_K_RELEASED, &batch, SOWN + 4);
    done(&s);
    ck_assert(stand_of(&batch, SOWN + 3).held);
    ck_assert(!stand_of(&batch, SOWN + 4).held);
}
END_TEST

START_TEST(out_and_back)
{
    struct cot_id h = hand_over(&s, &line, &farm, &batch, 300, SOWN + 29);
    start_work(COT_K_BACK, &h, SOWN + 30);
    of_farm(&s, &farm);
    say(&s, COT_F_PLANTS, 50);
    name(&s, COT_F_WHY, "too many");
    done(&s);
    start_work(COT_K_BACK, &h, SOWN + 30);
    of_farm(&s, &farm);
    say(&s, COT_F_PLANTS, 20);
    say(&s, COT_F_WERE_USABLE, 0);
    name(&s, COT_F_WHY, "broken");
    done(&s);
    struct cot_stand t = stand_of(&batch, SOWN + 28);
    ck_assert(t.out == 0 && t.back == 0);
    t = stand_of(&batch, SOWN + 29);
    ck_assert_int_eq(t.out, 300);
    t = stand_of(&batch, SOWN + 31);
    ck_assert(t.out == 250 && t.back == 50);

    struct cot_handover_row *rows;
    size_t n;
    ck_assert_int_eq(cot_handovers_read(book, SOWN + 31, &rows, &n), COT_OK);
    ck_assert_uint_eq(n, 1);
    ck_assert(rows[0].plants == 300 && rows[0].back == 50 && rows[0].refused == 20 && rows[0].day == SOWN + 29);
    ck_assert_str_eq(cot_thing_name(rows[0].farm), "Alder Ford");
    ck_assert_str_eq(cot_thing_name(rows[0].variety), "Red Harbour");
    ck_assert_str_eq(cot_thing_name(rows[0].format), "72 square");
    ck_assert_int_eq(cot_id_cmp(&rows[0].line->id, &line), 0);
    free(rows);
    ck_assert_int_eq(cot_handovers_read(book, SOWN + 28, &rows, &n), COT_OK);
    ck_assert_uint_eq(n, 0);
    free(rows);
}
END_TEST

/* Rows by day, farm's name, the line's and the batch's code. */
START_TEST(hand_overs_in_order)
{
    struct cot_id aspen = add_named(&s, COT_K_FARM, "Aspen");
    start_line(&s, &aspen, &variety, 100, SOWN + 30);
    struct cot_id theirs = *done(&s);
    start_line(&s, &farm, &variety, 100, SOWN + 30);
    struct cot_id second = *done(&s);
    start_sown(&s, &lot, &format, 2, SOWN);
    struct cot_id later_batch = *done(&s);
    const struct {
        const struct cot_id *line, *farm, *batch;
        int32_t day;
        int plants; /* the place in the report */
    } rows[] = {
        {&theirs, &aspen, &batch, SOWN + 31, 6},    {&second, &farm, &batch, SOWN + 30, 3},
        {&line, &farm, &later_batch, SOWN + 30, 2}, {&theirs, &aspen, &batch, SOWN + 30, 4},
        {&line, &farm, &batch, SOWN + 30, 1},       {&theirs, &aspen, &later_batch, SOWN + 30, 5},
    };
    for (size_t i = 0; i < 6; i++)
        hand_over(&s, rows[i].line, rows[i].farm, rows[i].batch, rows[i].plants, rows[i].day);
    struct cot_handover_row *found;
    size_t n;
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_handovers_read(book, SOWN + 40, &found, &n), COT_OK);
    ck_assert_uint_eq(n, 6);
    for (size_t i = 0; i < n; i++) ck_assert_int_eq(found[i].plants, (int64_t)i + 1);
    free(found);
}
END_TEST

START_TEST(potted_on_twice)
{
    struct cot_id big = add_format(&s, "24 deep", 4, 6);
    for (int i = 0; i < 4; i++) { /* on two days, and twice on one */
        make(&s, COT_K_POTTED);
        new_code(&s);
        point(&s, COT_F_BATCH, &batch);
        point(&s, COT_F_FORMAT, &big);
        say(&s, COT_F_TRAYS, 2);
        say(&s, COT_F_PLANTS, 40 + i);
        say(&s, COT_F_DAY, SOWN + 20 + i / 3);
        done(&s);
    }
    ck_assert_int_eq(stand_of(&batch, SOWN + 20).lost, 40 + 41 + 42);
    ck_assert_int_eq(stand_of(&batch, SOWN + 21).lost, 40 + 41 + 42 + 43);
}
END_TEST

START_TEST(no_stand)
{
    struct cot_stand out;
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_stand_read(book, cot_book_thing(book, &batch), SOWN - 1, &out), COT_NOT_FOUND);
    ck_assert_int_eq(cot_stand_read(book, cot_book_thing(book, &lot), SOWN, &out), COT_NOT_FOUND);
    make(&s, COT_K_TAKEN_BACK);
    about(&s, &batch);
    done(&s);
    cot_book_free(book);
    book = season_book(&s, NULL);
    const struct cot_thing *t = cot_book_thing(book, &batch);
    ck_assert(!t || cot_stand_read(book, t, SOWN, &out) == COT_NOT_FOUND);
}
END_TEST

START_TEST(house_and_crop_say)
{
    struct cot_id other = add_named(&s, COT_K_CROP, "Chard");
    struct cot_id v = add_variety(&s, "Lantern", &other);
    make(&s, COT_K_LOT);
    name(&s, COT_F_NAME, "L-1");
    point(&s, COT_F_VARIETY, &v);
    say(&s, COT_F_LABEL_GERM, 800);
    struct cot_id l = *done(&s);
    start_sown(&s, &l, &format, 1, SOWN);
    struct cot_id b = *done(&s);
    struct cot_stand t = stand_of(&b, SOWN);
    ck_assert(t.basis == COT_BASIS_LABEL && t.ready == COT_DAY_NONE && t.past == COT_DAY_NONE);
    ck_assert_double_eq_tol(t.rate, 0.95 * 81 / 102, 0.01);

    make(&s, COT_K_RULE);
    const struct cot_id *house = &s.row[0].digest;
    about(&s, house);
    say(&s, COT_F_CONFIDENCE, 750);
    say(&s, COT_F_ASSUMED_SEEDS, 10);
    done(&s);
    t = stand_of(&b, SOWN);
    ck_assert_double_eq_tol(t.rate, 0.95 * 9 / 12, 0.03);
    ck_assert_double_lt(t.rate, 0.95 * 81 / 102);
    ck_assert_int_eq(t.count_on, cot_stand_at(&t, 0.25));

    make(&s, COT_K_SOWN);
    new_code(&s);
    point(&s, COT_F_LOT, &l);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_TRAYS, 1);
    say(&s, COT_F_DAY, SOWN);
    say(&s, COT_F_READY, SOWN + 33);
    struct cot_id c = *done(&s);
    t = stand_of(&c, SOWN);
    ck_assert(t.ready == SOWN + 33 && t.past == SOWN + 33 + COT_PAST_DAYS_DEFAULT);
}
END_TEST

/* --- What the house's earlier batches teach --------------------------------------------------------------------- */

/* Sows a batch of four trays of the lot and counts three of them; `usable` of 72, give or take `unlike`. */
static struct cot_id sow_and_count_on(const struct cot_id *of, int32_t day, int32_t usable, int32_t unlike,
                                      int32_t count_day)
{
    static struct cot_tray_count three[64][3];
    static size_t used;
    struct cot_tray_count *t = three[used++ % 64];
    start_sown(&s, of, &format, 4, day);
    struct cot_id id = *done(&s);
    for (int32_t i = 0; i < 3; i++) {
        int32_t fit = usable + (i - 1) * unlike;
        t[i] = (struct cot_tray_count){i + 1, 72, fit, 72 - fit, 0, 0};
    }
    start_work(COT_K_COUNT, &id, count_day);
    ck_assert(cot_fact_set_counts(&s.next, COT_F_COUNTS, t, 3));
    done(&s);
    return id;
}

static struct cot_id sow_and_count(const struct cot_id *of, int32_t day, int32_t usable, int32_t unlike)
{
    return sow_and_count_on(of, day, usable, unlike, day + 14);
}

/* The lot's own batches teach most, another lot's of the crop less, another crop's nothing; nobody learns of itself. */
START_TEST(learns_from_others)
{
    start_lot(&s, "RH-2", &variety, 372);
    struct cot_id second = *done(&s);
    struct cot_id chard = add_crop(&s, "Chard", 28, 35), lantern = add_variety(&s, "Lantern", &chard);
    start_lot(&s, "L-1", &lantern, 372);
    struct cot_id third = *done(&s), other[3] = {lot, second, third}, fresh[3];
    for (int i = 0; i < 3; i++) {
        start_sown(&s, &other[i], &format, 10, SOWN + 40);
        fresh[i] = *done(&s);
    }
    double before = stand_of(&fresh[0], SOWN + 41).rate;
    for (int32_t i = 0; i < 5; i++) sow_and_count(&lot, SOWN + i, 54 + i, 1);
    double same = stand_of(&fresh[0], SOWN + 41).rate, near = stand_of(&fresh[1], SOWN + 41).rate;
    printf("rate %.3f before, %.3f of the same lot, %.3f of another\n", before, same, near);
    ck_assert(same < before - 0.05 && near < before - 0.005 && same < near - 0.01);
    ck_assert_double_eq_tol(stand_of(&fresh[2], SOWN + 41).rate, before, 1e-12);
    ck_assert(stand_of(&fresh[0], SOWN + 41).learned == 5 && stand_of(&fresh[2], SOWN + 41).learned == 0);
    ck_assert_double_eq_tol(stand_of(&fresh[0], SOWN + 41).rate, same, 1e-12);

    struct cot_next next;
    ck_assert_int_eq(cot_next_read(book, cot_book_thing(book, &lot), SOWN + 41, &next), COT_OK);
    ck_assert(next.spread.batches == 5 && next.basis == COT_BASIS_TEST && next.spread.shift < 0);
    ck_assert_double_eq_tol(cot_rate_of_odds(next.common.mean), same, 0.02);
    ck_assert_int_eq(cot_next_read(book, cot_book_thing(book, &farm), SOWN + 41, &next), COT_NOT_FOUND);
}
END_TEST

/* One counted batch alone is read as if there were no history: it must not be its own witness. */
START_TEST(nobody_is_his_own_witness)
{
    struct cot_id own = sow_and_count(&lot, SOWN, 50, 4);
    struct cot_stand t = stand_of(&own, SOWN + 20);
    ck_assert_int_eq(t.learned, 0);
    struct cot_stands *all;
    struct cot_stand same;
    ck_assert_int_eq(cot_stands_new(book, SOWN + 20, &all), COT_OK);
    ck_assert_int_eq(cot_stands_read(all, cot_book_thing(book, &own), &same), COT_OK);
    ck_assert(t.rate == same.rate && t.likely == same.likely && t.count_on == same.count_on && t.shared == same.shared);
    cot_stands_free(all);
    cot_stands_free(NULL);
    sow_and_count(&lot, SOWN, 50, 4);
    struct cot_stand two = stand_of(&own, SOWN + 20);
    ck_assert(two.learned == 1 && two.rate < t.rate);
}
END_TEST

/* Where earlier trays were alike, three counted trays say more of the rest than where they differed. */
START_TEST(learns_how_trays_differ)
{
    struct cot_stand t[2];
    for (int i = 0; i < 2; i++) {
        for (int k = 0; k < 6; k++) sow_and_count(&lot, SOWN + k, 60, i == 0 ? 1 : 11);
        struct cot_id last = sow_and_count(&lot, SOWN + 9, 60, 3);
        t[i] = stand_of(&last, SOWN + 28);
        teardown();
        setup();
    }
    printf("a tray of 72: %ld and %ld below the middle\n", (long)(t[0].likely - t[0].count_on),
           (long)(t[1].likely - t[1].count_on));
    ck_assert_int_lt(t[0].likely - t[0].count_on, t[1].likely - t[1].count_on);
}
END_TEST

/* Batches of a lot hang together by what they share, less the more each was counted. */
START_TEST(shared_with_the_lot)
{
    struct cot_stand none = stand_of(&batch, SOWN + 5);
    ck_assert(none.shared > 0.3 && none.shared < 0.95);
    count_tray(1, 66, SOWN + 14);
    struct cot_stand one = stand_of(&batch, SOWN + 15);
    ck_assert(one.shared > 0 && one.shared < none.shared);
    for (int32_t i = 2; i <= 8; i++) count_tray(i, 66, SOWN + 14);
    struct cot_stand eight = stand_of(&batch, SOWN + 15);
    ck_assert(eight.shared < one.shared);
}
END_TEST

/* Blanks of an early count may still come up; later none do. */
START_TEST(early_count)
{
    make(&s, COT_K_CROP);
    about(&s, &crop);
    say(&s, COT_F_EMERGE_DAYS, 7);
    done(&s);
    for (int32_t i = 1; i <= 8; i++) count_tray(i, 36, SOWN + 7); /* half of what comes has come */
    struct cot_stand t = stand_of(&batch, SOWN + 7);
    ck_assert(t.provisional && t.fixed == 8 * 36 && t.to_come == 8 * 36 && t.unseen == 144);
    ck_assert(t.likely > 540 && t.likely < 680);
    ck_assert_double_gt(t.rate, 0.8);
    counted_used = 0;
    for (int32_t i = 1; i <= 8; i++) count_tray(i, 36, SOWN + 14);
    t = stand_of(&batch, SOWN + 14);
    ck_assert(!t.provisional && t.to_come == 0 && t.likely < 400);
    ck_assert_double_lt(t.rate, 0.65);
}
END_TEST

/* The house's own early counts, made again, say when half has come. */
START_TEST(learns_emergence)
{
    static struct cot_tray_count early[4][2];
    count_tray(1, 30, SOWN + 6);
    struct cot_stand before = stand_of(&batch, SOWN + 6);
    for (int i = 0; i < 4; i++) { /* on day 6 nine tenths had come */
        start_sown(&s, &lot, &format, 2, SOWN - 60 + i);
        struct cot_id id = *done(&s);
        early[i][0] = (struct cot_tray_count){1, 72, 54, 18, 0, 0};
        early[i][1] = (struct cot_tray_count){1, 72, 60, 12, 0, 0};
        for (int k = 0; k < 2; k++) {
            start_work(COT_K_COUNT, &id, SOWN - 60 + i + (k ? 14 : 6));
            ck_assert(cot_fact_set_counts(&s.next, COT_F_COUNTS, &early[i][k], 1));
            done(&s);
        }
    }
    struct cot_stand after = stand_of(&batch, SOWN + 6);
    ck_assert_int_lt(after.likely, before.likely - 25); /* 30 of 72 then is not late, it is bad */
}
END_TEST

static void lose_48(const struct cot_id *id, int32_t day)
{
    start_work(COT_K_LOST, id, day);
    say(&s, COT_F_PLANTS, 48);
    name(&s, COT_F_WHY, "slugs");
    done(&s);
}

/* Losses of earlier batches after their count replace the crop's setting by and by. */
START_TEST(learns_later_losses)
{
    double before = stand_of(&batch, SOWN + 5).later_share;
    ck_assert_double_eq_tol(before, 0.01, 1e-12);
    for (int i = 0; i < 3; i++) {
        struct cot_id id = sow_and_count(&lot, SOWN - 60 + i, 60, 1);
        lose_48(&id, SOWN - 40); /* about a fifth */
        double now = stand_of(&batch, SOWN + 5).later_share;
        if (i < 2) ck_assert_double_eq_tol(now, 0.01, 1e-12);
        else ck_assert(now > 0.08 && now < 0.13);
    }
    ck_assert_double_eq_tol(stand_of(&batch, SOWN + 20).later_share, stand_of(&batch, SOWN + 5).later_share / 2, 1e-12);
    make(&s, COT_K_CROP);
    about(&s, &crop);
    say(&s, COT_F_LATER_LOSS, 100);
    done(&s);
    ck_assert_double_gt(stand_of(&batch, SOWN + 5).later_share, 0.13);
    ck_assert(stand_of(&batch, SOWN + 28).later_share == 0);
}
END_TEST

/* Batches that lost nothing count once the house has written a loss down; each counts for the part of the days from the
 * stand count to the ready day in which it was watched; one counted on its ready day says nothing. */
START_TEST(later_losses_as_long_as_watched)
{
    struct cot_id id[3];
    for (int i = 0; i < 3; i++) id[i] = sow_and_count_on(&lot, SOWN - 60 + i, 60, 1, SOWN - 40 + i); /* 8 of 16 days */
    ck_assert_double_eq_tol(stand_of(&batch, SOWN + 5).later_share, 0.01, 1e-12);
    lose_48(&id[0], SOWN - 35);
    double one = stand_of(&batch, SOWN + 5).later_share, lost = one * 4.5 - 0.03;
    ck_assert(lost > 0.18 && lost < 0.22); /* 48 of some 240 plants, and none of the other two batches */
    for (int i = 0; i < 3; i++) sow_and_count_on(&lot, SOWN - 60 + i, 60, 1, SOWN - 32 + i);
    ck_assert_double_eq_tol(stand_of(&batch, SOWN + 5).later_share, one, 1e-12);
    for (int i = 0; i < 2; i++) sow_and_count_on(&lot, SOWN - 60 + i, 60, 1, SOWN - 48 + i);
    ck_assert_double_eq_tol(stand_of(&batch, SOWN + 5).later_share, (0.03 + lost) / (3 + 1.5 + 2), 1e-9);
}
END_TEST

/* A seeder's misses lower the rate; put right by hand they don't. */
START_TEST(seeder_misses)
{
    struct cot_id id[3];
    make(&s, COT_K_PLATE);
    name(&s, COT_F_NAME, "Plate 72");
    say(&s, COT_F_CELLS, 72);
    say(&s, COT_F_HOLES, 1);
    say(&s, COT_F_MISSES, 60);
    say(&s, COT_F_TWOS, 0);
    struct cot_id plate = *done(&s);
    for (int i = 0; i < 3; i++) {
        start_sown(&s, &lot, &format, 10, SOWN);
        if (i > 0) point(&s, COT_F_PLATE, &plate);
        if (i > 1) say(&s, COT_F_PUT_RIGHT, 1);
        id[i] = *done(&s);
    }
    double hand = stand_of(&id[0], SOWN).rate;
    ck_assert_double_eq_tol(stand_of(&id[1], SOWN).rate, hand * 0.94, 1e-6);
    ck_assert_double_eq_tol(stand_of(&id[2], SOWN).rate, hand, 1e-6);
}
END_TEST

START_TEST(picked_trays)
{
    ck_assert(!stand_of(&batch, SOWN + 15).picked);
    counted[0] = (struct cot_tray_count){1, 72, 66, 6, 0, 0};
    start_work(COT_K_COUNT, &batch, SOWN + 14);
    ck_assert(cot_fact_set_counts(&s.next, COT_F_COUNTS, counted, 1));
    say(&s, COT_F_PICKED, 1);
    done(&s);
    ck_assert(stand_of(&batch, SOWN + 15).picked);
}
END_TEST

static void add(Suite *suite, const char *text, const TTest *test)
{
    TCase *c = tcase_create(text);
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_set_timeout(c, 60);
    tcase_add_test(c, test);
    suite_add_tcase(suite, c);
}

/* Raising days described for crop and format hold; what the batch itself says goes before. */
START_TEST(days_by_format_and_season)
{
    make(&s, COT_K_RAISING);
    name(&s, COT_F_NAME, "lettuce in 72, spring");
    point(&s, COT_F_CROP, &crop);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_FROM_WEEK, 10);
    say(&s, COT_F_TO_WEEK, 20);
    say(&s, COT_F_TRAY_DAYS, 24);
    done(&s);
    struct cot_stand t = stand_of(&batch, SOWN + 1);
    ck_assert(t.ready == SOWN + 24 && t.past == SOWN + 31);
    start_sown(&s, &lot, &format, 2, SOWN + 120);
    struct cot_id summer = *done(&s);
    t = stand_of(&summer, SOWN + 121);
    ck_assert(t.ready == SOWN + 120 + 28 && t.past == SOWN + 120 + 35);
    start_sown(&s, &lot, &format, 2, SOWN + 1);
    say(&s, COT_F_READY, SOWN + 30);
    struct cot_id said = *done(&s);
    t = stand_of(&said, SOWN + 2);
    ck_assert(t.ready == SOWN + 30 && t.past == SOWN + 37);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/stand_book");
    add(suite, "sown", sown_only);
    add(suite, "counts", counts_by_day);
    add(suite, "pooled", pooled_count_and_losses);
    add(suite, "potted", potted_on);
    add(suite, "shared", rows_of_a_shared_tray);
    add(suite, "held", holding);
    add(suite, "out", out_and_back);
    add(suite, "in_order", hand_overs_in_order);
    add(suite, "potted_twice", potted_on_twice);
    add(suite, "none", no_stand);
    add(suite, "rules", house_and_crop_say);
    add(suite, "others", learns_from_others);
    add(suite, "own_witness", nobody_is_his_own_witness);
    add(suite, "trays_differ", learns_how_trays_differ);
    add(suite, "shared_lot", shared_with_the_lot);
    add(suite, "early", early_count);
    add(suite, "emergence", learns_emergence);
    add(suite, "later", learns_later_losses);
    add(suite, "later_watched", later_losses_as_long_as_watched);
    add(suite, "seeder", seeder_misses);
    add(suite, "picked", picked_trays);
    add(suite, "days", days_by_format_and_season);
    return suite;
}
