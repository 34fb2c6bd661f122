/* Pages: a seal and the entries that it covers. */
#include "cotyledger/wire/entry.h"
#include "cotyledger/wire/seal.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "inner.h"

#define SEAL_BEFORE "{\"seal\":\""
#define SEAL_AFTER "\"}"

void cot_page_start(struct cot_buf *out, const char *jws, size_t jws_len)
{
    cot_buf_str(out, SEAL_BEFORE);
    cot_buf_put(out, jws, jws_len);
    cot_buf_str(out, SEAL_AFTER "\n");
}

void cot_page_free(struct cot_page *p)
{
    free(p->entry);
    memset(p, 0, sizeof *p);
}

/* The next line at *at, without its LF; false when no LF follows. */
static bool next_line(const char *bytes, size_t len, size_t *at, const char **line, size_t *line_len)
{
    const char *lf = *at < len ? memchr(bytes + *at, '\n', len - *at) : NULL;
    if (!lf) return false;
    *line = bytes + *at;
    *line_len = (size_t)(lf - *line);
    *at += *line_len + 1;
    return true;
}

static enum cot_err read_seal_line(const char *line, size_t len, const struct cot_id *pub, struct cot_page *out,
                                   struct cot_fault *fault)
{
    size_t before = strlen(SEAL_BEFORE), after = strlen(SEAL_AFTER);
    if (len < before + after || memcmp(line, SEAL_BEFORE, before) != 0 ||
        memcmp(line + len - after, SEAL_AFTER, after) != 0)
        return cot_fail(fault, COT_MALFORMED, "page, line 1: not {\"seal\":\"...\"}");
    out->jws = line + before;
    out->jws_len = len - before - after;
    enum cot_err err = pub ? cot_seal_open(out->jws, out->jws_len, pub, &out->seal, fault)
                           : cot_seal_peek(out->jws, out->jws_len, &out->seal, fault);
    if (err) return fault ? cot_within(fault, "page") : err;
    if (out->seal.last - out->seal.first >= COT_PAGE_ENTRIES_MAX)
        return cot_fail(fault, COT_TOO_LARGE, "page: more than %d entries", COT_PAGE_ENTRIES_MAX);
    return COT_OK;
}

/* One entry's grammar, and that it is the one its place in the page says. */
static enum cot_err read_entry(struct cot_decoder *d, const struct cot_page_entry *e, const struct cot_seal *seal,
                               int64_t n, struct cot_fact *fact, struct cot_fault *fault)
{
    enum cot_err err = cot_entry_parse(d, e->line, e->len, fact, fault);
    if (err) return fault ? cot_within(fault, "page, number %lld", (long long)n) : err;
    if (sodium_memcmp(fact->house.b, seal->house.b, sizeof seal->house.b) != 0 || strcmp(fact->tag, seal->tag) != 0 ||
        fact->number != n)
        return cot_fail(fault, COT_MALFORMED, "page, number %lld: the entry is of another house, device or number",
                        (long long)n);
    return COT_OK;
}

static enum cot_err read_entries(const char *bytes, size_t len, size_t at, struct cot_decoder *d, struct cot_page *out,
                                 struct cot_fact *fact, cot_page_each *each, void *ctx, struct cot_fault *fault)
{
    const struct cot_seal *seal = &out->seal;
    struct cot_id chain = seal->before;
    for (size_t i = 0; i < out->count; i++) {
        struct cot_page_entry *e = &out->entry[i];
        int64_t n = seal->first + (int64_t)i;
        if (!next_line(bytes, len, &at, &e->line, &e->len))
            return cot_fail(fault, COT_MALFORMED, "page: %zu entries are sealed, %zu are there", out->count, i);
        enum cot_err err = read_entry(d, e, seal, n, fact, fault);
        if (err) return err;
        cot_digest(e->line, e->len, &e->digest);
        cot_chain_next(&chain, n, &e->digest);
        if (each) each(ctx, i, fact, &e->digest);
    }
    if (at != len) return cot_fail(fault, COT_MALFORMED, "page: bytes after the last entry that the seal covers");
    if (sodium_memcmp(chain.b, seal->after.b, sizeof chain.b) != 0)
        return cot_fail(fault, COT_UNAUTHENTIC, "page: the entries are not the ones that were sealed");
    return COT_OK;
}

enum cot_err cot_page_read(const char *bytes, size_t len, const struct cot_id *pub, struct cot_decoder *d,
                           struct cot_page *out, struct cot_fault *fault)
{
    return cot_page_read_each(bytes, len, pub, d, out, NULL, NULL, fault);
}

enum cot_err cot_page_read_each(const char *bytes, size_t len, const struct cot_id *pub, struct cot_decoder *d,
                                struct cot_page *out, cot_page_each *each, void *ctx, struct cot_fault *fault)
{
    const char *line;
    size_t line_len, at = 0;
    struct cot_fact *fact = NULL;
    memset(out, 0, sizeof *out);
    if (len > COT_PAGE_BYTES_MAX)
        return cot_fail(fault, COT_TOO_LARGE, "page: %zu bytes; at most %u are allowed", len, COT_PAGE_BYTES_MAX);
    if (!next_line(bytes, len, &at, &line, &line_len))
        return cot_fail(fault, COT_MALFORMED, "page: no line with a seal");
    enum cot_err err = read_seal_line(line, line_len, pub, out, fault);
    if (err) goto out;
    out->count = (size_t)(out->seal.last - out->seal.first + 1);
    out->entry = calloc(out->count, sizeof *out->entry);
    fact = malloc(sizeof *fact);
    err = out->entry && fact ? read_entries(bytes, len, at, d, out, fact, each, ctx, fault)
                             : cot_fail(fault, COT_MEMORY, "out of memory");
out:
    free(fact);
    if (err) cot_page_free(out);
    return err;
}
