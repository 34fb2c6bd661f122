/* The same rows give the same book in whatever order they were put: random histories of a house, put in the ledger's
 * order and shuffled, with readings in between, some first as unsent. */
#include "../story.h"

/* --- Putting
 * -------------------------------------------------------------------------------------------------------------------
 */
static struct cot_book *put_in_order(const struct rows *r, const struct cot_id *farm)
{
    struct cot_book *b = cot_book_new(farm);
    ck_assert_ptr_nonnull(b);
    for (size_t i = 0; i < r->count; i++) ck_assert_int_eq(cot_book_put(b, &r->row[i]), COT_OK);
    return b;
}

static void shuffle(struct dice *d, size_t *order, size_t n)
{
    for (size_t i = 0; i < n; i++) order[i] = i;
    for (size_t i = n; i > 1; i--) {
        size_t k = (size_t)dice_int(d, 0, (int64_t)i - 1), x = order[i - 1];
        order[i - 1] = order[k];
        order[k] = x;
    }
}

/* Each row at its turn, some before as not sent; readings now and then, which settle what is there so far. */
static struct cot_book *put_shuffled(struct rows *r, const struct cot_id *farm, int reading_every)
{
    struct cot_book *b = cot_book_new(farm);
    size_t *order = calloc(r->count, sizeof *order), n;
    struct bytes ignored = {0};
    ck_assert(b && order);
    shuffle(&r->dice, order, r->count);
    for (size_t i = 0; i < r->count; i++) {
        struct cot_row early = r->row[order[(i * 7) % r->count]];
        early.position = early.receipt = 0;
        if (dice_int(&r->dice, 0, 9) == 0) ck_assert_int_eq(cot_book_put(b, &early), COT_OK);
        ck_assert_int_eq(cot_book_put(b, &r->row[order[i]]), COT_OK);
        if (dice_int(&r->dice, 0, reading_every) == 0) cot_book_notes(b, &n);
        if (dice_int(&r->dice, 0, reading_every * 10) == 0) say_book(&ignored, b);
    }
    for (size_t i = 0; i < r->count; i++) ck_assert_int_eq(cot_book_put(b, &r->row[i]), COT_OK);
    free(ignored.at);
    free(order);
    return b;
}

static void compare(struct cot_book *x, struct cot_book *y)
{
    struct bytes words_x = {0}, words_y = {0};
    say_book(&words_x, x);
    say_book(&words_y, y);
    same(&words_x, &words_y, "what the books say");
    struct bytes canon_x = canon(x), canon_y = canon(y);
    same(&canon_x, &canon_y, "canons");
    free(words_x.at);
    free(words_y.at);
    free(canon_x.at);
    free(canon_y.at);
}

/* As a laptop does: what waits there first, then the ledger as it comes, page by page. */
static struct cot_book *put_behind_unsent(struct rows *r, const struct cot_id *farm)
{
    struct cot_book *b = cot_book_new(farm);
    ck_assert_ptr_nonnull(b);
    size_t n;
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < r->count; i++) {
            if ((pass == 0) != (r->row[i].position == 0)) continue;
            ck_assert_int_eq(cot_book_put(b, &r->row[i]), COT_OK);
            if (dice_int(&r->dice, 0, 4) == 0) cot_book_notes(b, &n);
        }
    return b;
}

static void one_history(const char *what, int index, size_t sent_rows, size_t unsent_rows, bool farm_view)
{
    struct rows *r = rows_new(what, false);
    struct story *s = tell(r, index, sent_rows, unsent_rows);
    const struct cot_id *farm = farm_view ? &r->farm : NULL;
    struct cot_book *plain = put_in_order(r, farm);
    for (int i = 0; i < 4; i++) {
        struct cot_book *other = i == 3 ? put_behind_unsent(r, farm) : put_shuffled(r, farm, i == 0 ? 3 : 40);
        compare(plain, other);
        cot_book_free(other);
    }
    cot_book_free(plain);
    free(s);
    rows_free(r);
}

START_TEST(any_order)
{
    char what[40];
    snprintf(what, sizeof what, "any order %d", _i);
    one_history(what, _i, (size_t)(20 + _i * 12), (size_t)(_i * 2), _i % 5 == 4);
}
END_TEST

START_TEST(unsent_left_out)
{
    struct rows *r = rows_new("unsent left out", false);
    struct story *s = tell(r, _i, 300, 60);
    struct cot_book *all = put_in_order(r, NULL);
    size_t kept = 0;
    for (size_t i = 0; i < r->count; i++)
        if (r->row[i].position) r->row[kept++] = r->row[i];
    ck_assert_uint_lt(kept, r->count);
    r->count = kept;
    struct cot_book *only_sent = put_in_order(r, NULL);
    struct bytes x = canon(all), y = canon(only_sent);
    same(&x, &y, "canons");
    free(x.at);
    free(y.at);
    cot_book_free(all);
    cot_book_free(only_sent);
    free(s);
    rows_free(r);
}
END_TEST

/* The generator must reach what it is for: each verdict, each flag, and most reasons. One seed, so that it does not
 * hang on luck. */
START_TEST(histories_reach_everything)
{
    ck_assert_int_eq(setenv("COT_TEST_SEED", "20270115", 1), 0);
    unsigned verdicts = 0, flags = 0;
    size_t reasons = 0;
    char seen[64][160];
    for (int i = 0; i < 40; i++) {
        struct rows *r = rows_new("reach", false);
        struct story *s = tell(r, i, 500, 40);
        struct cot_book *b = put_in_order(r, NULL);
        size_t n;
        const struct cot_note *notes = cot_book_notes(b, &n);
        for (size_t k = 0; k < n; k++) {
            verdicts |= 1u << notes[k].verdict;
            flags |= notes[k].flags;
            size_t at = 0;
            while (at < reasons && strncmp(seen[at], notes[k].reason, 12) != 0) at++;
            if (at == reasons && reasons < 64) snprintf(seen[reasons++], sizeof seen[0], "%s", notes[k].reason);
        }
        cot_book_free(b);
        free(s);
        rows_free(r);
    }
    ck_assert_uint_eq(verdicts, 0x3F); /* booked ones too: with a flag */
    ck_assert_uint_eq(flags, 31);
    ck_assert_uint_gt(reasons, 20);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("book_order");
    TCase *t = tcase_create("order");
    tcase_set_timeout(t, 240);
    tcase_add_loop_test(t, any_order, 0, 24);
    tcase_add_loop_test(t, unsent_left_out, 0, 4);
    tcase_add_test(t, histories_reach_everything);
    suite_add_tcase(s, t);
    return s;
}
