/* The feed: vectors, what is written is read back, and bytes that come in parts. */
#include "cotyledger/wire/entry.h"
#include "cotyledger/wire/seal.h"
#include "files.h"

/* Reads all items; the last result, COT_NOT_FOUND at the end of good bytes. */
static enum cot_err read_all(const char *bytes, size_t len, size_t *items, struct cot_feed_item *last,
                             struct cot_fault *fault)
{
    size_t at = 0;
    enum cot_err err;
    struct cot_feed_item item;
    *items = 0;
    while ((err = cot_feed_next(bytes, len, &at, &item, fault)) == COT_OK) {
        ++*items;
        *last = item;
    }
    if (err == COT_NOT_FOUND) ck_assert_uint_eq(at, len);
    return err;
}

static void accepts(const struct file *f)
{
    struct cot_feed_item last;
    struct cot_fault fault;
    size_t items;
    ck_assert_msg(read_all(f->bytes, f->len, &items, &last, &fault) == COT_NOT_FOUND, "%s: %s", f->path, fault.msg);
    ck_assert_msg(items > 0 && last.what == COT_FEED_HEAD, "%s: %zu items", f->path, items);
}

static void rejects(const struct file *f)
{
    struct cot_feed_item last;
    struct cot_fault fault = {0};
    size_t items;
    char *p = f->bytes, *why = take_line(&p);
    enum cot_err err = read_all(p, f->len - (size_t)(p - f->bytes), &items, &last, &fault);
    ck_assert_msg(err == COT_MALFORMED, "%s: %s, %zu items", f->path, cot_err_row(err)->name, items);
    ck_assert_msg(strstr(fault.msg, why) != NULL, "%s: %s", f->path, fault.msg);
    ck_assert_uint_eq(items, 0);
}

START_TEST(accepting_vectors)
{
    each_file("vectors/feed/accept", 2, accepts);
}
END_TEST

START_TEST(rejecting_vectors)
{
    each_file("vectors/feed/reject", 20, rejects);
}
END_TEST

static void write_feed(struct cot_buf *out, const struct cot_id *hidden)
{
    cot_feed_row(out, 7, 1806307300000, "B", 3, "{\"x\":1}", 7);
    cot_feed_hole(out, 8, 1806307300000, "ZZZZ", COT_INT_MAX, hidden);
    cot_feed_seal(out, "aaa.bbb.ccc", 11);
    cot_feed_head(out, "ddd.eee.fff", 11);
}

START_TEST(written_is_read)
{
    struct cot_buf out = {0};
    struct cot_id hidden = {{9, 8, 7}}, d;
    struct cot_feed_item item;
    size_t at = 0;
    write_feed(&out, &hidden);
    ck_assert_int_eq(cot_feed_next(out.s, out.len, &at, &item, NULL), COT_OK);
    ck_assert(item.what == COT_FEED_ROW && item.position == 7 && item.receipt == 1806307300000 && item.number == 3);
    cot_digest("{\"x\":1}", 7, &d);
    ck_assert(item.len == 7 && memcmp(item.text, "{\"x\":1}", 7) == 0 && cot_id_cmp(&item.digest, &d) == 0);
    ck_assert_int_eq(cot_feed_next(out.s, out.len, &at, &item, NULL), COT_OK);
    ck_assert(item.what == COT_FEED_HOLE && item.position == 8 && item.number == COT_INT_MAX);
    ck_assert_str_eq(item.tag, "ZZZZ");
    ck_assert_int_eq(cot_id_cmp(&item.digest, &hidden), 0);
    ck_assert_int_eq(cot_feed_next(out.s, out.len, &at, &item, NULL), COT_OK);
    ck_assert(item.what == COT_FEED_SEAL && item.len == 11 && memcmp(item.text, "aaa.bbb.ccc", 11) == 0);
    ck_assert_int_eq(cot_feed_next(out.s, out.len, &at, &item, NULL), COT_OK);
    ck_assert(item.what == COT_FEED_HEAD && item.len == 11 && memcmp(item.text, "ddd.eee.fff", 11) == 0);
    ck_assert_uint_eq(at, out.len);
    cot_buf_free(&out);
}
END_TEST

/* However much has come, reading gives whole items or asks for more, and never moves past what is there. */
START_TEST(bytes_in_parts)
{
    struct cot_buf out = {0};
    struct cot_id hidden = {{1}};
    struct cot_fault fault;
    struct cot_feed_item item;
    write_feed(&out, &hidden);
    for (size_t len = 0; len <= out.len; len++) {
        char *part = malloc(len ? len : 1);
        size_t at = 0, before;
        enum cot_err err;
        memcpy(part, out.s, len);
        do {
            before = at;
            err = cot_feed_next(part, len, &at, &item, &fault);
        } while (err == COT_OK);
        ck_assert_msg(err == COT_NOT_FOUND, "with %zu bytes: %s", len, fault.msg);
        ck_assert_uint_eq(at, before);
        ck_assert_uint_le(at, len);
        free(part);
    }
    cot_buf_free(&out);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/feed");
    TCase *t = tcase_create("feed");
    tcase_add_test(t, accepting_vectors);
    tcase_add_test(t, rejecting_vectors);
    tcase_add_test(t, written_is_read);
    tcase_add_test(t, bytes_in_parts);
    suite_add_tcase(s, t);
    return s;
}
