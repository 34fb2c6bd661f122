/* server/core/fill/kept.c: under a change that touches a part of the house, lines come to the same figures, to the
 * last, as when the whole fill is read again; and the rest is not shared out again. How many houses: COT_KEPT_HOUSES.
 */
#include "random_season.h"

#include "fill/kept.h"

#define CHANGES 6

static struct dice d;

/* Some of everything that a what-if may change. Points into the caller's things. */
static void random_change(const struct cot_fill *f, struct cot_if_line *line, struct cot_stand *batch,
                          struct cot_what_if *out)
{
    const struct cot_fill_line *l = &f->line[dice_int(&d, 0, f->line_count - 1)];
    uint32_t k = (uint32_t)dice_int(&d, 0, f->batch_count - 1);
    int64_t what = dice_int(&d, 0, 63);
    *out = (struct cot_what_if){0};
    if (what & 1) {
        ck_assert_int_eq(cot_if_line_of(book, l->line, line), COT_OK);
        line->plants = dice_int(&d, line->least > 1 ? line->least : 1, 400);
        line->withdrawn = (what & 2) != 0;
        out->line = line;
    }
    if (what & 4) {
        *batch = f->stand[k];
        memset(&batch->batch, 0, sizeof batch->batch);
        out->batch = batch;
    }
    if (what & 8) out->release = f->batch[k];
    if ((what & 48) == 16) {
        out->patch = f->batch[dice_int(&d, 0, f->batch_count - 1)];
        out->patch_plants = dice_int(&d, 0, 40);
    }
    out->other_share = what == 32 || what == 33;
    out->share = COT_SHARE_PRORATA;
}

static void same_lines(const struct cot_fill *a, const struct cot_fill *b)
{
    ck_assert_uint_eq(a->line_count, b->line_count);
    ck_assert_uint_eq(a->allot_count, b->allot_count);
    ck_assert(a->if_line == b->if_line && a->if_batch == b->if_batch && a->batch_count == b->batch_count);
    for (uint32_t i = 0; i < a->line_count; i++) {
        const struct cot_fill_line *x = &a->line[i], *y = &b->line[i];
        ck_assert(x->line == y->line && x->wanted == y->wanted && x->promised == y->promised && x->unit == y->unit);
        ck_assert(x->allotted == y->allotted && x->extra == y->extra && x->likely == y->likely);
        ck_assert(x->count_on == y->count_on && x->chance == y->chance && x->verdict == y->verdict);
        ck_assert(x->short_by == y->short_by && x->passed_over == y->passed_over && x->least_missed == y->least_missed);
    }
    for (uint32_t i = 0; i < a->allot_count; i++) {
        const struct cot_allot *x = &a->allot[i], *y = &b->allot[i];
        ck_assert(x->line == y->line && x->batch == y->batch && x->plants == y->plants && x->extra == y->extra);
    }
    for (uint32_t i = 0; i < a->batch_count; i++)
        ck_assert(a->serves[i].left == b->serves[i].left && a->serves[i].lines == b->serves[i].lines);
}

/* Under a change, and under the same change from a reading under pro rata. */
static long check_change(const struct cot_fill *base, const struct cot_fill_kept *kept)
{
    struct cot_if_line line = {0};
    struct cot_stand batch;
    struct cot_what_if change;
    struct cot_fill whole, part;
    random_change(base, &line, &batch, &change);
    struct cot_fault fault = {0};
    ck_assert_msg(cot_fill_read_if(book, READY, &change, &whole, &fault) == COT_OK, "%s", fault.msg);
    ck_assert_int_eq(cot_fill_lines_if(book, base, kept, &change, &part, &fault), COT_OK);
    same_lines(&whole, &part);
    long moved = 0;
    for (uint32_t i = 0; i < whole.line_count && i < base->line_count; i++)
        moved += whole.line[i].chance != base->line[i].chance;
    cot_fill_free(&whole);
    cot_fill_free(&part);
    return moved;
}

static void hold_one(void)
{
    make(&s, COT_K_HELD);
    about(&s, &batches_made[0]);
    say(&s, COT_F_DAY, SOWN + 10);
    name(&s, COT_F_WHY, "to be looked at");
    done(&s);
}

START_TEST(lines_are_the_same)
{
    const char *given = getenv("COT_KEPT_HOUSES");
    long houses = given ? atol(given) : 25, moved = 0;
    d = dice_new("kept");
    for (long k = 0; k < houses; k++) {
        struct cot_fill_kept *kept, *kept_share;
        struct cot_fill under;
        const struct cot_what_if share = {.other_share = true, .share = COT_SHARE_PRORATA};
        random_season(&d, UINT64_C(0x6ee50000) + (uint64_t)k * 7919);
        if (dice_int(&d, 0, 1)) hold_one();
        book = season_book(&s, NULL);
        ck_assert_int_eq(cot_fill_read_kept(book, READY, NULL, &fill, &kept, NULL), COT_OK);
        ck_assert_int_eq(cot_fill_read_kept(book, READY, &share, &under, &kept_share, NULL), COT_OK);
        struct cot_fill plain;
        ck_assert_int_eq(cot_fill_read(book, READY, &plain), COT_OK);
        ck_assert(fingerprint(&plain) == fingerprint(&fill)); /* keeping changes nothing */
        cot_fill_free(&plain);
        for (int i = 0; i < CHANGES && fill.batch_count > 0; i++)
            moved += check_change(&fill, dice_int(&d, 0, 3) ? kept : kept_share);
        cot_fill_kept_free(kept);
        cot_fill_kept_free(kept_share);
        cot_fill_free(&under);
    }
    printf("kept: %ld houses, %ld lines moved\n", houses, moved);
    ck_assert_int_gt(moved, houses); /* about three a house: there was something to be wrong about */
}
END_TEST

/* What is kept is believed: figures that could not be come back for every line but those that the change touches. */
START_TEST(the_rest_is_not_shared_out)
{
    struct cot_fill_kept *kept;
    struct cot_fill after;
    struct cot_if_line line;
    struct cot_what_if change = {.line = &line};
    start_sown(&s, &lot, &format, 4, SOWN);
    done(&s);
    start_lot(&s, "GH-1", &green, 350);
    struct cot_id green_lot = *done(&s);
    start_sown(&s, &green_lot, &format, 4, SOWN);
    done(&s);
    struct cot_id order[2];
    for (int i = 0; i < 2; i++) {
        start_line(&s, &alder, i ? &green : &red, 240, READY);
        order[i] = *done(&s);
        promise(&s, &order[i], &alder, 240);
    }
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_fill_read_kept(book, READY, NULL, &fill, &kept, NULL), COT_OK);
    ck_assert_uint_eq(kept->groups, 2);
    for (size_t i = 0; i < kept->line_first[2]; i++) kept->prospect[i] = (struct cot_prospect){0.125, 7};
    ck_assert_int_eq(cot_if_line_of(book, cot_book_thing(book, &order[0]), &line), COT_OK);
    line.plants = 250;
    ck_assert_int_eq(cot_fill_lines_if(book, &fill, kept, &change, &after, NULL), COT_OK);
    for (uint32_t i = 0; i < 2; i++) {
        bool touched = cot_id_cmp(&after.line[i].line->id, &order[0]) == 0;
        ck_assert(touched == (after.line[i].chance != 0.125) && touched == (after.line[i].count_on != 7));
    }
    cot_fill_kept_free(kept);
    cot_fill_free(&after);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/fill_kept");
    TCase *c = tcase_create("kept");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_set_timeout(c, 3000);
    tcase_add_test(c, lines_are_the_same);
    tcase_add_test(c, the_rest_is_not_shared_out);
    suite_add_tcase(suite, c);
    return suite;
}
