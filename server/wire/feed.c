/* The feed: rows, holes, seals and the head, a line each. */
#include "cotyledger/wire/seal.h"

#include <string.h>

#include "inner.h"

#define LINE_MAX_BYTES 4096 /* of a line that is not an entry */

static void put_start(struct cot_buf *out, const char *word, int64_t position, int64_t receipt, const char *tag,
                      int64_t n)
{
    cot_buf_fmt(out, "%s %lld %lld %s %lld", word, (long long)position, (long long)receipt, tag, (long long)n);
}

void cot_feed_row(struct cot_buf *out, int64_t position, int64_t receipt, const char *tag, int64_t n, const char *line,
                  size_t len)
{
    put_start(out, "row", position, receipt, tag, n);
    cot_buf_str(out, "\n");
    cot_buf_put(out, line, len);
    cot_buf_str(out, "\n");
}

void cot_feed_hole(struct cot_buf *out, int64_t position, int64_t receipt, const char *tag, int64_t n,
                   const struct cot_id *d)
{
    put_start(out, "hole", position, receipt, tag, n);
    cot_buf_str(out, " ");
    cot_put_b64(out, d->b, sizeof d->b);
    cot_buf_str(out, "\n");
}

static void put_jws(struct cot_buf *out, const char *word, const char *jws, size_t len)
{
    cot_buf_str(out, word);
    cot_buf_put(out, jws, len);
    cot_buf_str(out, "\n");
}

void cot_feed_seal(struct cot_buf *out, const char *jws, size_t len)
{
    put_jws(out, "seal ", jws, len);
}

void cot_feed_head(struct cot_buf *out, const char *jws, size_t len)
{
    put_jws(out, "head ", jws, len);
}

/* The line at `at` of at most `most` bytes. */
static enum cot_err line_at(const char *bytes, size_t len, size_t at, size_t most, struct cot_scan *out,
                            struct cot_fault *fault)
{
    size_t left = at < len ? len - at : 0;
    size_t look = left > most + 1 ? most + 1 : left;
    const char *lf = look ? memchr(bytes + at, '\n', look) : NULL;
    if (lf) {
        *out = (struct cot_scan){bytes + at, lf, false};
        return COT_OK;
    }
    if (look > most) return cot_fail(fault, COT_MALFORMED, "feed, byte %zu: a line of more than %zu bytes", at, most);
    return cot_fail(fault, COT_NOT_FOUND, "feed, byte %zu: the bytes end before the line does", at);
}

static void scan_start(struct cot_scan *s, struct cot_feed_item *out)
{
    cot_scan_lit(s, " ");
    out->position = cot_scan_int(s, 1);
    cot_scan_lit(s, " ");
    out->receipt = cot_scan_int(s, 0);
    cot_scan_lit(s, " ");
    cot_scan_tag(s, out->tag);
    cot_scan_lit(s, " ");
    out->number = cot_scan_int(s, 1);
}

static void scan_row(struct cot_scan *s, struct cot_feed_item *out)
{
    scan_start(s, out);
}

static void scan_hole(struct cot_scan *s, struct cot_feed_item *out)
{
    scan_start(s, out);
    cot_scan_lit(s, " ");
    cot_scan_b64(s, out->digest.b, sizeof out->digest.b);
}

static void scan_jws(struct cot_scan *s, struct cot_feed_item *out)
{
    cot_scan_lit(s, " ");
    out->text = s->p;
    out->len = (size_t)(s->end - s->p);
    s->bad = s->bad || out->len == 0;
    s->p = s->end;
}

static const struct {
    const char *word;
    void (*scan)(struct cot_scan *s, struct cot_feed_item *out);
} lines[] = {
    [COT_FEED_ROW] = {"row", scan_row},
    [COT_FEED_HOLE] = {"hole", scan_hole},
    [COT_FEED_SEAL] = {"seal", scan_jws},
    [COT_FEED_HEAD] = {"head", scan_jws},
};

/* The entry's line that follows a row's. */
static enum cot_err read_row_entry(const char *bytes, size_t len, size_t *at, struct cot_feed_item *out,
                                   struct cot_fault *fault)
{
    struct cot_scan s = {0};
    enum cot_err err = line_at(bytes, len, *at, COT_ENTRY_MAX, &s, fault);
    if (err) return err;
    out->text = s.p;
    out->len = (size_t)(s.end - s.p);
    cot_digest(out->text, out->len, &out->digest);
    *at += out->len + 1;
    return COT_OK;
}

enum cot_err cot_feed_next(const char *bytes, size_t len, size_t *at, struct cot_feed_item *out,
                           struct cot_fault *fault)
{
    struct cot_scan line;
    memset(out, 0, sizeof *out);
    enum cot_err err = line_at(bytes, len, *at, LINE_MAX_BYTES, &line, fault);
    if (err) return err;
    size_t next = *at + (size_t)(line.end - line.p) + 1;
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        struct cot_scan s = line;
        cot_scan_lit(&s, lines[i].word);
        lines[i].scan(&s, out);
        if (!cot_scan_done(&s)) continue;
        out->what = (enum cot_feed_line)i;
        if (out->what == COT_FEED_ROW) err = read_row_entry(bytes, len, &next, out, fault);
        if (!err) *at = next;
        return err;
    }
    return cot_fail(fault, COT_MALFORMED, "feed, byte %zu: a line that is no row, hole, seal or head", *at);
}
