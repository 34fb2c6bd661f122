/* Questions about the ledger's rows. */
#include "conn.h"

#include <stdlib.h>
#include <string.h>

/* The four arrays of a page's rows, in binary. */
struct arrays {
    struct cot_buf scope, digest, chain, body;
};

static void arrays_free(struct arrays *a)
{
    cot_buf_free(&a->scope);
    cot_buf_free(&a->digest);
    cot_buf_free(&a->chain);
    cot_buf_free(&a->body);
}

static bool arrays_fill(struct arrays *a, const struct cot_new_page *p)
{
    struct cot_buf *all[] = {&a->scope, &a->digest, &a->chain, &a->body};
    for (size_t i = 0; i < 4; i++) cot_array_start(all[i], p->count);
    for (size_t i = 0; i < p->count; i++) {
        const struct cot_new_row *row = &p->row[i];
        if (row->scope == COT_SCOPE_FARM) cot_array_item(&a->scope, row->farm.b, sizeof row->farm.b);
        else cot_array_item(&a->scope, row->scope == COT_SCOPE_HOUSE ? "H" : "C", 1);
        cot_array_item(&a->digest, row->digest.b, sizeof row->digest.b);
        cot_array_item(&a->chain, row->chain.b, sizeof row->chain.b);
        cot_array_item(&a->body, row->body, row->len);
    }
    return !a->scope.failed && !a->digest.failed && !a->chain.failed && !a->body.failed;
}

static enum cot_err put_rows(struct cot_tx *tx, const struct cot_new_page *p, const struct arrays *a,
                             struct cot_fault *fault)
{
    struct cot_bind b = {0};
    cot_bind_bytes(&b, tx->house.b, sizeof tx->house.b);
    cot_bind_int(&b, p->position - 1); /* ordinality counts from 1 */
    cot_bind_int(&b, p->receipt);
    cot_bind_text(&b, p->tag);
    cot_bind_int(&b, p->number - 1);
    cot_bind_bytes(&b, a->scope.s, a->scope.len);
    cot_bind_bytes(&b, a->digest.s, a->digest.len);
    cot_bind_bytes(&b, a->chain.s, a->chain.len);
    cot_bind_bytes(&b, a->body.s, a->body.len);
    return cot_conn_put(tx->conn, COT_Q_ADD_ROWS, &b, fault);
}

static enum cot_err put_seal(struct cot_tx *tx, const struct cot_new_page *p, struct cot_fault *fault)
{
    struct cot_bind b = {0};
    cot_bind_bytes(&b, tx->house.b, sizeof tx->house.b);
    cot_bind_int(&b, p->position + (int64_t)p->count - 1);
    cot_bind_int(&b, p->position);
    cot_bind_bytes(&b, p->seal, p->seal_len);
    return cot_conn_put(tx->conn, COT_Q_ADD_SEAL, &b, fault);
}

static enum cot_err put_move(struct cot_tx *tx, const struct cot_new_page *p, struct cot_fault *fault)
{
    struct cot_bind b = {0};
    cot_bind_text(&b, p->tag);
    cot_bind_int(&b, p->position + (int64_t)p->count - 1);
    cot_bind_int(&b, p->number + (int64_t)p->count - 1);
    cot_bind_bytes(&b, p->journal.b, sizeof p->journal.b);
    return cot_conn_put(tx->conn, COT_Q_MOVE, &b, fault);
}

enum cot_err cot_add_page(struct cot_tx *tx, const struct cot_new_page *p, bool commit, struct cot_fault *fault)
{
    struct arrays a = {0};
    enum cot_err err = COT_OK;
    if (!tx->open || tx->failed) return cot_fail(fault, COT_INTERNAL, "asked in a transaction that is over");
    if (!arrays_fill(&a, p)) err = cot_fail(fault, COT_MEMORY, "out of memory");
    if (!err) err = put_rows(tx, p, &a, fault);
    if (!err) err = put_seal(tx, p, fault);
    if (!err) err = put_move(tx, p, fault);
    if (!err && commit) err = cot_conn_put(tx->conn, COT_Q_COMMIT, NULL, fault);
    if (!err) err = cot_conn_flush(tx->conn, tx->deadline, NULL, fault);
    if (err) tx->failed = true;
    else if (commit) tx->open = false;
    arrays_free(&a);
    return err;
}

void cot_rows_free(struct cot_rows *r)
{
    free(r->row);
    PQclear(r->inside);
    memset(r, 0, sizeof *r);
}

static bool read_row(const PGresult *r, int i, int columns, struct cot_stored_row *out)
{
    out->position = cot_cell_int(r, i, 0);
    out->receipt = cot_cell_int(r, i, 1);
    out->number = cot_cell_int(r, i, 3);
    if (!cot_cell_tag(r, i, 2, out->tag) || !cot_cell_id(r, i, 4, &out->digest) || !cot_cell_id(r, i, 5, &out->chain))
        return false;
    out->hole = columns < 8 || PQgetisnull(r, i, 7);
    if (!out->hole) {
        const char *scope = cot_cell_bytes(r, i, 6, &out->scope_len);
        if (!scope || out->scope_len > sizeof out->scope) return false;
        memcpy(out->scope, scope, out->scope_len);
        out->body = cot_cell_bytes(r, i, 7, &out->len);
    }
    if (columns < 10) return true;
    out->seal = cot_cell_bytes(r, i, 8, &out->seal_len);
    out->seal_first = cot_cell_int(r, i, 9);
    return true;
}

static enum cot_err ask_rows(struct cot_tx *tx, enum cot_question q, const struct cot_bind *b, struct cot_rows *out,
                             struct cot_fault *fault)
{
    memset(out, 0, sizeof *out);
    PGresult *r = NULL;
    enum cot_err err = cot_tx_ask(tx, q, b, &r, fault);
    if (err) return err;
    out->inside = r;
    int n = PQntuples(r), columns = PQnfields(r);
    out->row = calloc((size_t)n + 1, sizeof *out->row);
    if (!out->row) err = cot_fail(fault, COT_MEMORY, "out of memory");
    for (int i = 0; !err && i < n; i++)
        if (!read_row(r, i, columns, &out->row[i]))
            err = cot_fail(fault, COT_STORE, "%s: a value has an unexpected form", cot_questions[q].name);
    if (!err) out->count = (size_t)n;
    else cot_rows_free(out);
    return err;
}

enum cot_err cot_ask_rows(struct cot_tx *tx, int64_t after, int64_t upto, int64_t limit, struct cot_rows *out,
                          struct cot_fault *fault)
{
    struct cot_bind b = {0};
    cot_bind_bytes(&b, tx->house.b, sizeof tx->house.b);
    cot_bind_int(&b, after);
    cot_bind_int(&b, upto);
    cot_bind_int(&b, limit);
    return ask_rows(tx, COT_Q_ROWS, &b, out, fault);
}

enum cot_err cot_ask_feed(struct cot_tx *tx, int64_t after, int64_t upto, int64_t least, struct cot_rows *out,
                          struct cot_fault *fault)
{
    struct cot_bind b = {0};
    cot_bind_bytes(&b, tx->house.b, sizeof tx->house.b);
    cot_bind_int(&b, after);
    cot_bind_int(&b, upto);
    cot_bind_int(&b, least);
    return ask_rows(tx, tx->whole ? COT_Q_FEED_WHOLE : COT_Q_FEED_FARM, &b, out, fault);
}

enum cot_err cot_ask_numbers(struct cot_tx *tx, const char *tag, int64_t first, int64_t last, struct cot_rows *out,
                             struct cot_fault *fault)
{
    struct cot_bind b = {0};
    cot_bind_bytes(&b, tx->house.b, sizeof tx->house.b);
    cot_bind_text(&b, tag);
    cot_bind_int(&b, first);
    cot_bind_int(&b, last);
    return ask_rows(tx, COT_Q_NUMBERS, &b, out, fault);
}

enum cot_err cot_ask_chain(struct cot_tx *tx, int64_t position, struct cot_id *chain, struct cot_fault *fault)
{
    PGresult *r = NULL;
    struct cot_bind b = {0};
    cot_bind_int(&b, position);
    enum cot_err err = cot_tx_ask(tx, COT_Q_CHAIN, &b, &r, fault);
    if (!err && (PQntuples(r) != 1 || !cot_cell_id(r, 0, 0, chain)))
        err = cot_fail(fault, COT_NOT_FOUND, "the ledger has no position %lld", (long long)position);
    PQclear(r);
    return err;
}
