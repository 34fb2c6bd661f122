/* The canonical bytes, read back by the grammar on top of server/core/book/canon.c, against what the book says. */
#include "../story.h"

struct in {
    const unsigned char *at, *end;
};

static const unsigned char *take(struct in *in, size_t n)
{
    ck_assert_uint_ge((size_t)(in->end - in->at), n);
    in->at += n;
    return in->at - n;
}

static int64_t take_int(struct in *in)
{
    const unsigned char *p = take(in, 8);
    uint64_t x = 0;
    for (int i = 0; i < 8; i++) x = x << 8 | p[i];
    return (int64_t)x;
}

static struct cot_id take_id(struct in *in)
{
    struct cot_id id;
    memcpy(id.b, take(in, sizeof id.b), sizeof id.b);
    return id;
}

static void read_value(struct in *in, const struct cot_value *v)
{
    ck_assert_int_eq(take_int(in), v->type);
    switch ((enum cot_type)v->type) {
    case COT_T_TEXT:
        ck_assert_int_eq(take_int(in), v->len);
        ck_assert_int_eq(memcmp(take(in, v->len), v->v.text, v->len), 0);
        break;
    case COT_T_ID:
    case COT_T_IDS:
        if (v->type == COT_T_IDS) ck_assert_int_eq(take_int(in), v->len);
        for (uint32_t i = 0; i < v->len; i++) {
            struct cot_id id = take_id(in);
            ck_assert_int_eq(cot_id_cmp(&id, &v->v.ids[i]), 0);
        }
        break;
    case COT_T_NUMBERS:
        ck_assert_int_eq(take_int(in), v->len);
        for (uint32_t i = 0; i < v->len; i++) ck_assert_int_eq(take_int(in), v->v.numbers[i]);
        break;
    default:
        ck_assert_int_eq(take_int(in), v->v.i);
        break;
    }
}

static void read_thing(struct in *in, struct cot_book *b, struct cot_id *last)
{
    struct cot_id id = take_id(in);
    ck_assert_int_lt(cot_id_cmp(last, &id), 0);
    *last = id;
    const struct cot_thing *t = cot_book_thing(b, &id);
    ck_assert_ptr_nonnull(t);
    ck_assert_int_eq(take_int(in), t->type);
    ck_assert_int_eq(take_int(in), t->gone);
    struct cot_id farm = take_id(in);
    ck_assert_int_eq(cot_id_cmp(&farm, &t->farm), 0);
    int64_t left = take_int(in);
    for (int f = 0; f < COT_F_COUNT; f++) {
        const struct cot_value *v = cot_thing_value(t, (enum cot_field)f);
        if (!v) continue;
        ck_assert_int_gt(left--, 0);
        ck_assert_int_eq(take_int(in), f);
        read_value(in, v);
    }
    ck_assert_int_eq(left, 0);
}

static void read_entry(struct in *in, struct cot_book *b, struct cot_id *last)
{
    struct cot_id id = take_id(in);
    struct cot_note n;
    ck_assert_int_lt(cot_id_cmp(last, &id), 0);
    *last = id;
    ck_assert(cot_book_verdict(b, &id, &n));
    ck_assert_int_eq(cot_id_cmp(&n.digest, &id), 0);
    ck_assert_int_eq(take_int(in), n.verdict);
    ck_assert_int_eq(take_int(in), n.flags);
}

START_TEST(the_grammar)
{
    struct rows *r = rows_new("grammar", false);
    struct story *s = tell(r, _i, 200, 0);
    struct cot_book *b = cot_book_new(NULL);
    for (size_t i = 0; i < r->count; i++) ck_assert_int_eq(cot_book_put(b, &r->row[i]), COT_OK);
    struct bytes bytes = canon(b);
    struct in in = {bytes.at, bytes.at + bytes.n};
    ck_assert_int_eq(memcmp(take(&in, 18), "cotyledger book v1", 18), 0);
    ck_assert_int_eq(take_int(&in), COT_RULES_VERSION);
    struct cot_id last = {{0}};
    int64_t things = take_int(&in), listed = 0;
    for (int64_t i = 0; i < things; i++) read_thing(&in, b, &last);
    for (int type = 1; type < COT_THING_COUNT; type++) {
        size_t n;
        cot_book_things(b, (enum cot_thing_type)type, &n);
        listed += (int64_t)n;
    }
    ck_assert_int_ge(things, listed); /* and those taken back */
    memset(&last, 0, sizeof last);
    int64_t entries = take_int(&in);
    ck_assert_int_eq(entries, (int64_t)r->count);
    for (int64_t i = 0; i < entries; i++) read_entry(&in, b, &last);
    ck_assert_ptr_eq(in.at, in.end);
    free(bytes.at);
    cot_book_free(b);
    free(s);
    rows_free(r);
}
END_TEST

/* An empty book, to the byte. */
START_TEST(nothing_at_all)
{
    static const unsigned char want[18 + 24] = "cotyledger book v1\0\0\0\0\0\0\0\1";
    struct cot_book *b = cot_book_new(NULL);
    struct bytes bytes = canon(b);
    ck_assert_uint_eq(bytes.n, sizeof want);
    ck_assert_int_eq(memcmp(bytes.at, want, sizeof want), 0);
    free(bytes.at);
    cot_book_free(b);
}
END_TEST

/* Whatever changes what the book says changes the bytes. */
START_TEST(every_word_counts)
{
    struct rows *r = rows_new("counts", true);
    struct cot_id crop = rows_crop(r, "Leek", 60);
    struct bytes before = canon(r->book);
    begin(r, "A", COT_K_CROP);
    about(r, &crop);
    with_text(r, COT_F_NAME, "Leeks");
    struct cot_id change = good(r);
    struct bytes after = canon(r->book);
    ck_assert(before.n + 1 + 48 == after.n); /* one letter, one entry */
    take_back(r, "A", &change, NULL);
    struct bytes back = canon(r->book);
    ck_assert_uint_eq(back.n, after.n - 1 + 48);
    begin(r, "B", COT_K_NOTE);
    with_text(r, COT_F_TEXT, "waits");
    unsent(r);
    struct bytes waiting = canon(r->book);
    same(&waiting, &back, "canons with and without what waits");
    free(before.at);
    free(after.at);
    free(back.at);
    free(waiting.at);
    rows_free(r);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("book_canon");
    TCase *t = tcase_create("canon");
    tcase_set_timeout(t, 60);
    tcase_add_loop_test(t, the_grammar, 0, 4);
    tcase_add_test(t, nothing_at_all);
    tcase_add_test(t, every_word_counts);
    suite_add_tcase(s, t);
    return s;
}
