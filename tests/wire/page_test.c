/* Pages: vectors, and a page of the largest size. */
#include "cotyledger/wire/entry.h"
#include "cotyledger/wire/seal.h"
#include "files.h"

static struct cot_decoder *decoder;

static void setup(void)
{
    decoder = cot_decoder_new();
    ck_assert_ptr_nonnull(decoder);
}

static void teardown(void)
{
    cot_decoder_free(decoder);
}

static enum cot_err read_page(const struct file *f, const json_t *root, bool with_key, struct cot_page *page,
                              struct cot_fault *fault)
{
    struct cot_id key;
    const char *k = text_of(f, root, "key"), *bytes = text_of(f, root, "page");
    ck_assert(cot_id_parse(k, strlen(k), &key));
    memset(fault, 0, sizeof *fault);
    return cot_page_read(bytes, strlen(bytes), with_key ? &key : NULL, decoder, page, fault);
}

static void accepts(const struct file *f)
{
    struct cot_page page;
    struct cot_fault fault;
    json_t *root = file_json(f);
    for (int with_key = 0; with_key < 2; with_key++) {
        ck_assert_msg(read_page(f, root, with_key, &page, &fault) == COT_OK, "%s: %s", f->path, fault.msg);
        ck_assert_int_eq(page.seal.first, json_integer_value(json_object_get(root, "first")));
        ck_assert_int_eq((int64_t)page.count, json_integer_value(json_object_get(root, "count")));
        cot_page_free(&page);
    }
    json_decref(root);
}

static void rejects(const struct file *f)
{
    struct cot_page page;
    struct cot_fault fault;
    json_t *root = file_json(f);
    enum cot_err err = read_page(f, root, true, &page, &fault);
    ck_assert_msg(strcmp(cot_err_row(err)->name, text_of(f, root, "error")) == 0, "%s: %s %s", f->path,
                  cot_err_row(err)->name, fault.msg);
    ck_assert_msg(strstr(fault.msg, text_of(f, root, "why")) != NULL, "%s: %s", f->path, fault.msg);
    ck_assert_ptr_null(page.entry);
    json_decref(root);
}

START_TEST(accepting_vectors)
{
    each_file("vectors/page/accept", 3, accepts);
}
END_TEST

START_TEST(rejecting_vectors)
{
    each_file("vectors/page/reject", 20, rejects);
}
END_TEST

/* Writes `n` notes of device B as a page sealed by k. */
static void make_page(size_t n, const struct cot_keypair *k, struct cot_buf *out)
{
    struct cot_fact f = {.kind = COT_K_NOTE, .tag = "B", .has_member = true};
    struct cot_seal seal = {.tag = "B", .first = 1, .last = (int64_t)n};
    struct cot_buf lines = {0}, line = {0}, jws = {0};
    struct cot_fault fault;
    struct cot_id d;
    ck_assert(cot_fact_set_text(&f, COT_F_TEXT, "bench 4 is dry", 14));
    cot_chain_start(&seal.house, seal.tag, &seal.before);
    seal.after = seal.before;
    for (size_t i = 0; i < n; i++) {
        f.number = (int64_t)i + 1;
        cot_buf_clear(&line);
        ck_assert_int_eq(cot_entry_write(&f, &line, &fault), COT_OK);
        cot_digest(line.s, line.len, &d);
        cot_chain_next(&seal.after, f.number, &d);
        cot_buf_put(&lines, line.s, line.len);
        cot_buf_str(&lines, "\n");
    }
    cot_seal_sign(&seal, k, &jws);
    cot_page_start(out, jws.s, jws.len);
    cot_buf_put(out, lines.s, lines.len);
    ck_assert(!out->failed);
    cot_buf_free(&lines);
    cot_buf_free(&line);
    cot_buf_free(&jws);
}

START_TEST(a_thousand_entries)
{
    struct cot_keypair k;
    struct cot_page page;
    struct cot_fault fault;
    struct cot_buf bytes = {0};
    cot_keypair_new(&k);
    make_page(COT_PAGE_ENTRIES_MAX, &k, &bytes);
    ck_assert_msg(cot_page_read(bytes.s, bytes.len, &k.pub, decoder, &page, &fault) == COT_OK, "%s", fault.msg);
    ck_assert_uint_eq(page.count, COT_PAGE_ENTRIES_MAX);
    ck_assert_ptr_eq(page.entry[999].line + page.entry[999].len + 1, bytes.s + bytes.len);
    cot_page_free(&page);
    cot_buf_free(&bytes);
}
END_TEST

START_TEST(over_the_byte_limit)
{
    static char bytes[COT_PAGE_BYTES_MAX + 1];
    struct cot_page page;
    struct cot_fault fault;
    memset(bytes, '\n', sizeof bytes);
    ck_assert_int_eq(cot_page_read(bytes, sizeof bytes, NULL, decoder, &page, &fault), COT_TOO_LARGE);
}
END_TEST

/* A page with any one byte changed is refused. */
START_TEST(any_byte_changed)
{
    struct cot_keypair k;
    struct cot_page page;
    struct cot_fault fault;
    struct cot_buf bytes = {0};
    cot_keypair_new(&k);
    make_page(2, &k, &bytes);
    for (size_t i = 0; i < bytes.len; i++) {
        bytes.s[i] ^= 1;
        ck_assert_msg(cot_page_read(bytes.s, bytes.len, &k.pub, decoder, &page, &fault) != COT_OK,
                      "byte %zu changed: accepted", i);
        bytes.s[i] ^= 1;
        ck_assert_msg(cot_page_read(bytes.s, i, &k.pub, decoder, &page, &fault) != COT_OK, "cut to %zu bytes: accepted",
                      i);
    }
    ck_assert_int_eq(cot_page_read(bytes.s, bytes.len, &k.pub, decoder, &page, NULL), COT_OK);
    cot_page_free(&page);
    cot_buf_free(&bytes);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/page");
    TCase *t = tcase_create("page");
    tcase_add_checked_fixture(t, setup, teardown);
    tcase_add_test(t, accepting_vectors);
    tcase_add_test(t, rejecting_vectors);
    tcase_add_test(t, a_thousand_entries);
    tcase_add_test(t, over_the_byte_limit);
    tcase_add_test(t, any_byte_changed);
    suite_add_tcase(s, t);
    return s;
}
