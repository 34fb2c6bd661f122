/* Memory that runs out: each allocation in turn fails, and what was asked for either works or says that memory ran out;
 * a good entry is never called malformed for it. The files that allocate are compiled in here with an allocator that
 * fails when told to. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static long until_failure = -1; /* allocations until one fails; below 0: none does */

static void *failing_realloc(void *p, size_t n)
{
    if (until_failure >= 0 && until_failure-- == 0) return NULL;
    return realloc(p, n);
}

static void *failing_malloc(size_t n)
{
    return failing_realloc(NULL, n);
}

#define realloc failing_realloc
#define malloc failing_malloc
#include "../../server/wire/bytes.c"
#include "../../server/wire/entry.c"
#undef realloc
#undef malloc

#include "cotyledger/wire/request.h"
#include "files.h"

/* Makes the 1st, 2nd ... allocation of `once` fail until it runs through; returns how many it had. */
static long fail_each(enum cot_err (*once)(void))
{
    for (long n = 0; n < 10000; n++) {
        until_failure = n;
        enum cot_err err = once();
        bool failed = until_failure < 0;
        until_failure = -1;
        if (!failed) {
            ck_assert_int_eq(err, COT_OK);
            return n;
        }
        ck_assert_msg(err == COT_OK || err == COT_MEMORY, "allocation %ld failed: %s", n, cot_err_row(err)->name);
    }
    ck_abort_msg("never ran through");
    return 0;
}

static struct cot_decoder *decoder;
static char *entry;

static enum cot_err parse_once(void)
{
    static struct cot_fact fact;
    struct cot_fault fault;
    return cot_entry_parse(decoder, entry, strlen(entry), &fact, &fault);
}

START_TEST(parsing)
{
    struct file f;
    char path[512];
    snprintf(path, sizeof path, "%s/vectors/entry/accept/kind-count.txt", COT_TESTS_DIR);
    file_read(path, &f);
    char *p = f.bytes;
    entry = take_line(&p);
    decoder = cot_decoder_new();
    ck_assert_ptr_nonnull(decoder);
    ck_assert_int_gt(fail_each(parse_once), 20);
    cot_decoder_free(decoder);
    free(f.bytes);
}
END_TEST

static struct cot_keypair keypair;

static enum cot_err write_and_seal(void)
{
    struct cot_fact f = {.kind = COT_K_NOTE, .tag = "B", .number = 1, .has_member = true};
    struct cot_seal seal = {.tag = "B", .first = 1, .last = 1}, back;
    struct cot_buf line = {0}, jws = {0};
    struct cot_fault fault;
    enum cot_err err = COT_INTERNAL;
    if (!cot_fact_set_text(&f, COT_F_TEXT, "bench 4 is dry", 14)) return err;
    err = cot_entry_write(&f, &line, &fault);
    if (!err) cot_seal_sign(&seal, &keypair, &jws);
    if (!err && jws.failed) err = COT_MEMORY;
    if (!err) err = cot_seal_open(jws.s, jws.len, &keypair.pub, &back, &fault);
    cot_buf_free(&line);
    cot_buf_free(&jws);
    return err;
}

START_TEST(writing_and_sealing)
{
    cot_keypair_new(&keypair);
    ck_assert_int_gt(fail_each(write_and_seal), 3);
}
END_TEST

static enum cot_err sign_and_verify(void)
{
    struct cot_request r = {"GET", "/v1/ledger", "after=1", "text/plain", "", 0, {{1}}};
    struct cot_signature_params p = {.created = 1806307200, .tag = "B"};
    struct cot_buf digest = {0}, input = {0}, signature = {0};
    struct cot_fault fault;
    enum cot_err err = COT_MEMORY;
    cot_request_sign(&r, &p, &keypair, &digest, &input, &signature);
    if (!digest.failed && !input.failed && !signature.failed)
        err = cot_request_verify(&r, &keypair.pub, digest.s, input.s, signature.s, &fault);
    cot_buf_free(&digest);
    cot_buf_free(&input);
    cot_buf_free(&signature);
    return err;
}

START_TEST(requests)
{
    cot_keypair_new(&keypair);
    ck_assert_int_gt(fail_each(sign_and_verify), 5);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/memory");
    TCase *t = tcase_create("memory");
    tcase_add_test(t, parsing);
    tcase_add_test(t, writing_and_sealing);
    tcase_add_test(t, requests);
    suite_add_tcase(s, t);
    return s;
}
