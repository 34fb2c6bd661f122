#include "feed.h"

#define ROWS_AT_ONCE 1000

static void put_row(const struct cot_stored_row *r, struct cot_buf *out)
{
    if (r->hole) cot_feed_hole(out, r->position, r->receipt, r->tag, r->number, &r->digest);
    else cot_feed_row(out, r->position, r->receipt, r->tag, r->number, r->body, r->len);
    if (r->seal) cot_feed_seal(out, r->seal, r->seal_len);
}

/* One reading of whole pages; *after moves to the last row. */
static enum cot_err some(struct cot_session *s, int64_t *after, int64_t least, struct cot_buf *out, int64_t *rows,
                         struct cot_fault *fault)
{
    struct cot_rows r;
    enum cot_err err = cot_ask_feed(s->tx, *after, s->head.position, least, &r, fault);
    if (err) return err;
    for (size_t i = 0; i < r.count; i++) {
        if (r.row[i].position != ++*after) {
            err = cot_fail(fault, COT_STORE, "the ledger lacks position %lld", (long long)*after);
            break;
        }
        put_row(&r.row[i], out);
    }
    if (!err && r.count == 0)
        err = cot_fail(fault, COT_STORE, "the ledger lacks rows after position %lld", (long long)*after);
    *rows += (int64_t)r.count;
    cot_rows_free(&r);
    if (!err && out->failed) err = cot_fail(fault, COT_MEMORY, "out of memory");
    return err;
}

enum cot_err cot_feed(struct cot_session *s, int64_t after, int64_t limit, struct cot_buf *out, struct cot_fault *fault)
{
    struct cot_buf head = {0};
    int64_t rows = 0;
    enum cot_err err = cot_session_head(s, &head, fault);
    cot_session_release(s);
    if (!err && after > s->head.position)
        err = cot_fail(fault, COT_NOT_FOUND, "the ledger ends at position %lld", (long long)s->head.position);
    if (!err && cot_session_is_buyer(s)) cot_tx_narrow(s->tx, &s->who.farm);
    while (!err && after < s->head.position && rows < limit && out->len < COT_FEED_BYTES) {
        int64_t least = limit - rows < ROWS_AT_ONCE ? limit - rows : ROWS_AT_ONCE;
        err = some(s, &after, least, out, &rows, fault);
    }
    if (!err) cot_feed_head(out, head.s, head.len);
    if (!err && out->failed) err = cot_fail(fault, COT_MEMORY, "out of memory");
    cot_buf_free(&head);
    return err;
}

enum cot_err cot_chain_at(struct cot_session *s, int64_t position, struct cot_id *chain, struct cot_fault *fault)
{
    if (position != 0) return cot_ask_chain(s->tx, position, chain, fault);
    cot_ledger_start(&s->id, chain);
    return COT_OK;
}
