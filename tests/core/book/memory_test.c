/* Memory that runs out: each allocation of the book's in turn fails once. Nothing is lost by it: the same asked again
 * gives what a book that never lacked memory says. Linked with malloc, calloc and realloc wrapped
 * (tests/CMakeLists.txt). */
#include "../story.h"

static long until_failure = -1; /* allocations until one fails; below 0: none does */

void *__real_malloc(size_t n);
void *__real_calloc(size_t n, size_t size);
void *__real_realloc(void *p, size_t n);
void *__wrap_malloc(size_t n);
void *__wrap_calloc(size_t n, size_t size);
void *__wrap_realloc(void *p, size_t n);

static bool armed; /* only while the book works: the test's own allocations are not meant */

static bool fails(void)
{
    return armed && until_failure >= 0 && until_failure-- == 0;
}

void *__wrap_malloc(size_t n)
{
    return fails() ? NULL : __real_malloc(n);
}

void *__wrap_calloc(size_t n, size_t size)
{
    return fails() ? NULL : __real_calloc(n, size);
}

void *__wrap_realloc(void *p, size_t n)
{
    return fails() ? NULL : __real_realloc(p, n);
}

#define BOOK(call)                                                                                                     \
    do {                                                                                                               \
        armed = true;                                                                                                  \
        call;                                                                                                          \
        armed = false;                                                                                                 \
    } while (0)

static void read_some(struct cot_book *b, const struct rows *r, size_t i)
{
    size_t n;
    struct cot_note note;
    const struct cot_thing *t = NULL;
    enum cot_err err = COT_MEMORY;
    if (i % 29 == 0) BOOK(cot_book_notes(b, &n));
    if (i % 31 == 0) BOOK(cot_book_history(b, &r->row[i / 2].digest, &n));
    if (i % 37 == 0) BOOK(cot_book_things(b, COT_THING_LINE, &n));
    if (i % 41 == 0) BOOK((void)cot_book_verdict(b, &r->row[i / 3].digest, &note));
    if (i % 43 == 0) BOOK((void)cot_book_thing(b, &r->row[i / 2].digest));
    if (i % 47 == 0) BOOK(err = cot_book_find(b, COT_THING_NONE, "alder", &t, NULL));
    ck_assert(err != COT_OK || t != NULL);
}

/* Puts and reads as a program would, with what failed done once more. */
static struct cot_book *put_all(const struct rows *r)
{
    struct cot_book *b;
    enum cot_err err;
    BOOK(b = cot_book_new(NULL));
    if (!b) b = cot_book_new(NULL);
    ck_assert_ptr_nonnull(b);
    for (size_t i = 0; i < r->count; i++) {
        BOOK(err = cot_book_put(b, &r->row[i]));
        if (err == COT_MEMORY) err = cot_book_put(b, &r->row[i]);
        ck_assert_int_eq(err, COT_OK);
        read_some(b, r, i);
    }
    return b;
}

static void to_nowhere(void *ctx, const void *bytes, size_t len)
{
    (void)bytes;
    *(size_t *)ctx += len;
}

static void compare_books(struct cot_book *b, const struct bytes *words, const struct bytes *bytes)
{
    struct bytes w = {0};
    size_t len = 0;
    enum cot_err err;
    BOOK(err = cot_book_canon(b, to_nowhere, &len));
    ck_assert(err == COT_MEMORY || (err == COT_OK && len == bytes->n));
    struct bytes c = canon(b);
    say_book(&w, b);
    same(&w, words, "what the books say");
    same(&c, bytes, "canons");
    free(w.at);
    free(c.at);
}

START_TEST(each_allocation_fails_once)
{
    struct rows *r = rows_new("memory", false);
    struct story *s = tell(r, 3, 150, _i * 8);
    struct cot_book *plain = put_all(r);
    struct bytes words = {0}, bytes = canon(plain);
    say_book(&words, plain);
    cot_book_free(plain);
    long n = 0;
    for (bool ended = false; !ended; n++) {
        until_failure = n;
        struct cot_book *b = put_all(r);
        compare_books(b, &words, &bytes);
        ended = until_failure >= 0; /* never reached */
        until_failure = -1;
        cot_book_free(b);
        ck_assert_int_lt(n, 20000);
        if (n > 200) n += 6; /* the rest looks like the rest */
        if (n > 4000) break;
    }
    ck_assert_int_gt(n, 100);
    free(words.at);
    free(bytes.at);
    free(s);
    rows_free(r);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("book_memory");
    TCase *t = tcase_create("memory");
    tcase_set_timeout(t, 300);
    tcase_add_loop_test(t, each_allocation_fails_once, 0, 2);
    suite_add_tcase(s, t);
    return s;
}
