/* What is remembered of things that very many entries name: the table itself, and that a book which remembers says what
 * a book says that looks through everything again. Linked with cot_memo_make wrapped. */
#include "../story.h"

#include "book/in.h"

struct cot_memo *__real_cot_memo_make(struct cot_memos *m, uint32_t root);
struct cot_memo *__wrap_cot_memo_make(struct cot_memos *m, uint32_t root);

static bool forgetful;   /* no memo is ever made */
static unsigned made[2]; /* askings for one, while remembering and while not */

struct cot_memo *__wrap_cot_memo_make(struct cot_memos *m, uint32_t root)
{
    made[forgetful]++;
    return forgetful ? NULL : __real_cot_memo_make(m, root);
}

/* --- The table -----------------------------------------------------------------------------------------------------
 */
START_TEST(finds_what_was_made)
{
    struct cot_memos m = {0};
    ck_assert_ptr_null(cot_memo_find(&m, 7));
    for (uint32_t i = 1; i <= 1000; i++) {
        struct cot_memo *memo = __real_cot_memo_make(&m, i * 64); /* many on one place, were it not spread */
        ck_assert_ptr_nonnull(memo);
        ck_assert_uint_eq(memo->root, i * 64);
        memo->answer = i;
    }
    for (uint32_t i = 1; i <= 1000; i++) {
        ck_assert_uint_eq(cot_memo_find(&m, i * 64)->answer, i);
        ck_assert_uint_eq(__real_cot_memo_make(&m, i * 64)->answer, i); /* found, not made again */
        ck_assert_ptr_null(cot_memo_find(&m, i * 64 + 1));
    }
    ck_assert_uint_eq(m.count, 1000);
    ck_assert_uint_gt(m.size, 1999);
    cot_memos_free(&m);
}
END_TEST

START_TEST(clearing_forgets_all)
{
    struct cot_memos m = {0};
    cot_memos_clear(&m); /* nothing there yet */
    for (uint32_t i = 1; i <= 40; i++) __real_cot_memo_make(&m, i)->changes_known = true;
    ck_assert(cot_list_push(&m.pool, 5));
    cot_memos_clear(&m);
    ck_assert_uint_eq(m.pool.count, 0);
    for (uint32_t i = 1; i <= 40; i++) ck_assert_ptr_null(cot_memo_find(&m, i));
    ck_assert(!__real_cot_memo_make(&m, 3)->changes_known);
    cot_memos_free(&m);
}
END_TEST

/* --- A house where much is said of few things ------------------------------------------------------------------------
 */
struct crowd {
    struct rows *r;
    struct cot_id variety, format, lot, line, batch;
    struct cot_id of_line[ROWS_MAX]; /* changes of the line, and takings back of them */
    size_t of_lines;
};

static void start(struct crowd *c, const char *what, int index)
{
    *c = (struct crowd){.r = rows_new(what, false)};
    c->r->dice.s += (uint64_t)index * UINT64_C(0x632be59bd9b4e019);
    struct cot_id crop = rows_crop(c->r, "Leek", 30);
    c->variety = rows_variety(c->r, "Long Grey", &crop);
    c->format = rows_format(c->r, "72", 6, 12);
    c->lot = rows_lot(c->r, "LG-1", &c->variety);
    make_line(c->r, "C", &c->r->farm, &c->variety, 100, ROWS_DAY0 + 60);
    c->line = good(c->r);
    make_sown(c->r, "B", &c->lot, &c->format, 6);
    c->batch = good(c->r);
}

static int64_t roll(struct crowd *c, int64_t low, int64_t high)
{
    return dice_int(&c->r->dice, low, high);
}

static const char *somebody(struct crowd *c, const char *tags)
{
    static const char *const names[] = {"A", "B", "C"};
    return names[tags[roll(c, 0, (int64_t)strlen(tags) - 1)] - 'A'];
}

/* Clocks run apart, and receipts may be long after. */
static void stray(struct crowd *c)
{
    c->r->f.clock += roll(c, -40, 5) * 3600000;
    c->r->f.seen = roll(c, 0, c->r->position);
}

static void say_line(struct crowd *c, const char *tags)
{
    begin(c->r, somebody(c, tags), COT_K_LINE);
    about(c->r, &c->line);
    of_farm(c->r, &c->r->farm);
    if (roll(c, 0, 2) == 0) with_int(c->r, COT_F_DATE, ROWS_DAY0 + roll(c, 35, 70));
    if (roll(c, 0, 3) == 0) with_int(c->r, COT_F_CLOSING, ROWS_DAY0 + roll(c, 0, 40));
    with_int(c->r, COT_F_PLANTS, roll(c, 1, 500));
    stray(c);
    c->of_line[c->of_lines++] = sent(c->r);
}

static void take_something_back(struct crowd *c)
{
    if (c->of_lines == 0) return;
    begin(c->r, somebody(c, "ABC"), COT_K_TAKEN_BACK);
    about(c->r, &c->of_line[roll(c, 0, (int64_t)c->of_lines - 1)]);
    of_farm(c->r, &c->r->farm);
    stray(c);
    c->of_line[c->of_lines++] = sent(c->r);
}

/* The first few entries get all the answers. */
static void answer_something(struct crowd *c)
{
    if (c->of_lines == 0) return;
    begin(c->r, "A", COT_K_ANSWER);
    about(c->r, &c->of_line[roll(c, 0, c->of_lines < 3 ? 0 : 2)]);
    with_int(c->r, COT_F_AS, roll(c, 0, 1));
    of_farm(c->r, &c->r->farm);
    stray(c);
    sent(c->r);
}

static void change_format(struct crowd *c)
{
    begin(c->r, somebody(c, "AB"), COT_K_FORMAT); /* a hand's is queried */
    about(c->r, &c->format);
    if (roll(c, 0, 1) == 0) with_int(c->r, COT_F_ROWS, roll(c, 1, 9));
    else with_int(c->r, COT_F_COLS, roll(c, 1, 12));
    stray(c);
    sent(c->r);
}

static void count_tray(struct crowd *c)
{
    make_count(c->r, "B", &c->batch, (int32_t)roll(c, 1, 7), (int32_t)roll(c, 1, 60), 1);
    stray(c);
    sent(c->r);
}

static void carry_on(struct crowd *c, size_t rows)
{
    for (size_t i = 0; i < rows; i++) {
        int64_t what = roll(c, 0, 99);
        if (what < 35) say_line(c, "ABC");
        else if (what < 50) take_something_back(c);
        else if (what < 70) answer_something(c);
        else if (what < 85) change_format(c);
        else count_tray(c);
        if (roll(c, 0, 9) == 0) c->r->now += roll(c, 0, 60) * 3600000;
    }
}

static struct cot_book *put(struct crowd *c, bool forget, bool shuffled)
{
    struct cot_book *b = cot_book_new(NULL);
    size_t n, count = c->r->count, *order = calloc(count, sizeof *order);
    ck_assert(b && order);
    forgetful = forget;
    for (size_t i = 0; i < count; i++) {
        size_t k = shuffled ? (size_t)roll(c, 0, (int64_t)i) : i;
        order[i] = order[k];
        order[k] = i;
    }
    for (size_t i = 0; i < count; i++) {
        ck_assert_int_eq(cot_book_put(b, &c->r->row[order[i]]), COT_OK);
        if (shuffled && roll(c, 0, 60) == 0) cot_book_notes(b, &n); /* settles what is there so far */
    }
    free(order);
    return b;
}

static struct bytes all_of(struct cot_book *b)
{
    struct bytes out = {0};
    say_book(&out, b);
    struct bytes c = canon(b);
    to_bytes(&out, c.at, c.n);
    free(c.at);
    cot_book_free(b);
    return out;
}

START_TEST(remembering_changes_nothing)
{
    static struct crowd c;
    start(&c, "remembering", _i);
    carry_on(&c, 60 + (size_t)_i * 60);
    struct bytes plain = all_of(put(&c, true, false));
    struct bytes again[] = {all_of(put(&c, false, false)), all_of(put(&c, false, true)), all_of(put(&c, true, true))};
    for (size_t i = 0; i < sizeof again / sizeof again[0]; i++) {
        same(&plain, &again[i], i == 2 ? "forgetting, shuffled" : "remembering");
        free(again[i].at);
    }
    free(plain.at);
    rows_free(c.r);
}
END_TEST

enum use { ANSWERS, CLOSINGS, CHANGES };

/* Which uses the memos of the last settling are of, as bits. */
static unsigned uses(const struct cot_book *b)
{
    unsigned found = 0;
    for (uint32_t i = 0; i < b->memos.size; i++) {
        const struct cot_memo *m = &b->memos.item[i];
        if (m->root) found |= m->answer_known << ANSWERS | m->closing_known << CLOSINGS | m->changes_known << CHANGES;
    }
    return found;
}

static void name_often(struct crowd *c, enum use use, int rounds)
{
    say_line(c, "C");
    for (int i = 0; i < rounds; i++) {
        if (use == ANSWERS) answer_something(c);
        else if (use == CLOSINGS) say_line(c, "C");
        else change_format(c);
    }
    for (int i = 0; i < 20 && use == CLOSINGS; i++) take_back(c->r, "C", &c->of_line[i % 10], &c->r->farm);
    if (use == CHANGES) count_tray(c);
}

/* Each use is reached by what is for it; what 10 entries name gets no memo, what 40 name gets one. */
START_TEST(only_of_what_many_name)
{
    static struct crowd c;
    for (int rounds = 10; rounds <= 40; rounds += 30) {
        size_t n;
        start(&c, "many", _i);
        name_often(&c, (enum use)_i, rounds);
        made[0] = 0;
        struct cot_book *b = put(&c, false, false);
        cot_book_notes(b, &n);
        unsigned found = uses(b);
        ck_assert_msg(rounds > 32 ? found >> _i & 1 : found == 0, "use %d, %d rounds: %u", _i, rounds, found);
        ck_assert_int_eq(made[0] > 0, found != 0);
        cot_book_free(b);
        rows_free(c.r);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("book_memo");
    TCase *t = tcase_create("memo");
    tcase_set_timeout(t, 120);
    tcase_add_test(t, finds_what_was_made);
    tcase_add_test(t, clearing_forgets_all);
    tcase_add_loop_test(t, remembering_changes_nothing, 0, 10);
    tcase_add_loop_test(t, only_of_what_many_name, ANSWERS, CHANGES + 1);
    suite_add_tcase(s, t);
    return s;
}
