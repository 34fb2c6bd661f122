/* server/core/stand/stand.c, book/handovers.c: the stand read from a book. The figures are in calc_test.c. */
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

static struct cot_tray_count counted[8];
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
    ck_assert_double_eq_tol(t.a / (t.a + t.b), 0.95 * 373 / 402, 1e-9);
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
    ck_assert(t.usable == 640 && t.lost == 40 && t.fixed == 615 && t.unseen == 0 && t.likely == 615 &&
              t.count_on == 615);
    t = stand_of(&batch, SOWN + 15);
    ck_assert_int_eq(t.likely, 640);
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
    ck_assert_int_eq(t.likely, cot_betabinom_quantile(200, 98, 2, 0.5));
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
    ck_assert(t.fixed == 192 && t.unseen == 8 && t.likely == 200);
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
    ck_assert_double_eq_tol(t.a / (t.a + t.b), 0.95 * 81 / 102, 1e-9);

    make(&s, COT_K_RULE);
    const struct cot_id *house = &s.row[0].digest;
    about(&s, house);
    say(&s, COT_F_CONFIDENCE, 750);
    say(&s, COT_F_ASSUMED_SEEDS, 10);
    done(&s);
    t = stand_of(&b, SOWN);
    ck_assert_double_eq_tol(t.a / (t.a + t.b), 0.95 * 9 / 12, 1e-9);
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

static void add(Suite *suite, const char *text, const TTest *test)
{
    TCase *c = tcase_create(text);
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_set_timeout(c, 60);
    tcase_add_test(c, test);
    suite_add_tcase(suite, c);
}

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
    return suite;
}
