/* The ledger as fetched: rows, seals, heads of devices, what was set aside, statements. */
#include <string.h>

#include "journal/db.h"

enum cot_err cot_journal_put_row(struct cot_journal *j, const struct cot_ledger_row *r, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_PUT_ROW);
    cot_ask_int(&a, r->position);
    cot_ask_int(&a, r->receipt);
    cot_ask_text(&a, r->tag);
    cot_ask_int(&a, r->number);
    cot_ask_blob(&a, &r->digest, sizeof r->digest);
    cot_ask_blob(&a, &r->chain, sizeof r->chain);
    cot_ask_blob(&a, r->body, r->len);
    return cot_ask_run(&a, "write what was fetched", fault);
}

static bool ledger_row(struct cot_ask *a, struct cot_ledger_row *r)
{
    memset(r, 0, sizeof *r);
    r->position = cot_col_int(a, 0);
    r->receipt = cot_col_int(a, 1);
    if (!cot_col_tag(a, 2, r->tag)) return false;
    r->number = cot_col_int(a, 3);
    if (!cot_col_id(a, 4, &r->digest, sizeof r->digest) || !cot_col_id(a, 5, &r->chain, sizeof r->chain)) return false;
    r->body = cot_col_bytes(a, 6, &r->len);
    return true;
}

enum cot_err cot_journal_walk_ledger(struct cot_journal *j, int64_t after, cot_ledger_fn *fn, void *ctx,
                                     struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_WALK_LEDGER);
    struct cot_ledger_row r;
    enum cot_err told = COT_OK;
    cot_ask_int(&a, after);
    while (!told && cot_ask_row(&a) && ledger_row(&a, &r)) told = fn(ctx, &r, fault);
    enum cot_err e = cot_ask_done(&a, "read the journal", told ? NULL : fault);
    return told ? told : e;
}

enum cot_err cot_journal_chain_at(struct cot_journal *j, int64_t position, struct cot_id *chain,
                                  struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_CHAIN_AT);
    cot_ask_int(&a, position);
    bool found = cot_ask_row(&a) && cot_col_id(&a, 0, chain, sizeof *chain);
    enum cot_err e = cot_ask_done(&a, "read the journal", fault);
    if (!e && !found) e = cot_fail(fault, COT_NOT_FOUND, "ledger position %lld is not here", (long long)position);
    return e;
}

enum cot_err cot_journal_last_number(struct cot_journal *j, const char *tag, int64_t position, int64_t *number,
                                     struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_LAST_NUMBER);
    cot_ask_text(&a, tag);
    cot_ask_int(&a, position);
    *number = cot_ask_row(&a) ? cot_col_int(&a, 0) : 0;
    return cot_ask_done(&a, "read the journal", fault);
}

/* --- Seals
 * --------------------------------------------------------------------------------------------------------------- */

enum cot_err cot_journal_put_seal(struct cot_journal *j, const struct cot_kept_seal *s, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_PUT_SEAL);
    char jws[1024];
    if (s->len >= sizeof jws) return cot_fail(fault, COT_TOO_LARGE, "a seal of %zu bytes", s->len);
    memcpy(jws, s->jws, s->len);
    jws[s->len] = '\0';
    cot_ask_int(&a, s->position);
    cot_ask_text(&a, s->tag);
    cot_ask_int(&a, s->first);
    cot_ask_int(&a, s->last);
    cot_ask_text(&a, jws);
    return cot_ask_run(&a, "write what was fetched", fault);
}

static enum cot_err walk_seals(struct cot_ask *a, cot_seal_fn *fn, void *ctx, struct cot_fault *fault)
{
    enum cot_err told = COT_OK;
    struct cot_kept_seal s;
    while (!told && cot_ask_row(a) && cot_col_tag(a, 1, s.tag)) {
        s.position = cot_col_int(a, 0);
        s.first = cot_col_int(a, 2);
        s.last = cot_col_int(a, 3);
        s.jws = cot_col_bytes(a, 4, &s.len);
        told = fn(ctx, &s, fault);
    }
    enum cot_err e = cot_ask_done(a, "read the journal", told ? NULL : fault);
    return told ? told : e;
}

enum cot_err cot_journal_seal_at(struct cot_journal *j, int64_t position, cot_seal_fn *fn, void *ctx,
                                 struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_SEAL_AT);
    cot_ask_int(&a, position);
    return walk_seals(&a, fn, ctx, fault);
}

/* --- Devices
 * --------------------------------------------------------------------------------------------------------------- */

enum cot_err cot_journal_put_device(struct cot_journal *j, const struct cot_device_head *d, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_PUT_DEVICE);
    cot_ask_text(&a, d->tag);
    cot_ask_int(&a, d->number);
    cot_ask_blob(&a, &d->chain, sizeof d->chain);
    cot_ask_blob(&a, d->has_key ? &d->key : NULL, sizeof d->key);
    return cot_ask_run(&a, "write what was fetched", fault);
}

enum cot_err cot_journal_walk_devices(struct cot_journal *j, cot_device_fn *fn, void *ctx, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_WALK_DEVICES);
    enum cot_err told = COT_OK;
    struct cot_device_head d;
    memset(&d, 0, sizeof d);
    while (!told && cot_ask_row(&a) && cot_col_tag(&a, 0, d.tag) && cot_col_id(&a, 2, &d.chain, sizeof d.chain)) {
        size_t len;
        d.number = cot_col_int(&a, 1);
        d.has_key = cot_col_bytes(&a, 3, &len) != NULL;
        if (d.has_key && !cot_col_id(&a, 3, &d.key, sizeof d.key)) break;
        told = fn(ctx, &d, fault);
    }
    enum cot_err e = cot_ask_done(&a, "read the journal", told ? NULL : fault);
    return told ? told : e;
}

enum cot_err cot_journal_drop_devices(struct cot_journal *j, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_DROP_DEVICES);
    return cot_ask_run(&a, "write in the journal", fault);
}

/* --- After a restore
 * ---------------------------------------------------------------------------------------------------- */

static enum cot_err past(struct cot_journal *j, enum cot_question first, enum cot_question second, int64_t position,
                         struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, first);
    cot_ask_int(&a, position);
    enum cot_err e = cot_ask_run(&a, "write in the journal", fault);
    if (e) return e;
    a = cot_ask(j, second);
    cot_ask_int(&a, position);
    return cot_ask_run(&a, "write in the journal", fault);
}

enum cot_err cot_journal_drop_after(struct cot_journal *j, int64_t position, struct cot_fault *fault)
{
    return past(j, COT_Q_DROP_ROWS, COT_Q_DROP_SEALS, position, fault);
}

enum cot_err cot_journal_set_aside(struct cot_journal *j, int64_t position, struct cot_fault *fault)
{
    enum cot_err e = past(j, COT_Q_ASIDE_ROWS, COT_Q_ASIDE_SEALS, position, fault);
    return e ? e : cot_journal_drop_after(j, position, fault);
}

enum cot_err cot_journal_walk_aside(struct cot_journal *j, cot_seal_fn *fn, void *ctx, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_WALK_ASIDE);
    return walk_seals(&a, fn, ctx, fault);
}

enum cot_err cot_journal_line(struct cot_journal *j, const char *tag, int64_t number, struct cot_buf *line,
                              struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_LINE);
    size_t len = 0;
    cot_ask_text(&a, tag);
    cot_ask_int(&a, number);
    bool found = cot_ask_row(&a);
    const char *body = found ? cot_col_bytes(&a, 0, &len) : NULL;
    if (body) cot_buf_put(line, body, len);
    enum cot_err e = cot_ask_done(&a, "read the journal", fault);
    if (!e && !body) e = cot_fail(fault, COT_NOT_FOUND, "entry %s %lld is not here", tag, (long long)number);
    return e;
}

enum cot_err cot_journal_aside_done(struct cot_journal *j, int64_t position, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_ASIDE_SEALS_DONE);
    cot_ask_int(&a, position);
    enum cot_err e = cot_ask_run(&a, "write in the journal", fault);
    if (e) return e;
    a = cot_ask(j, COT_Q_ASIDE_ROWS_DONE);
    return cot_ask_run(&a, "write in the journal", fault);
}

/* --- Statements
 * ------------------------------------------------------------------------------------------------------------ */

enum cot_err cot_journal_put_statement(struct cot_journal *j, const char *form, int32_t on, const char *jws, size_t len,
                                       struct cot_fault *fault)
{
    struct cot_buf text = {0};
    cot_buf_put(&text, jws, len);
    if (text.failed || !text.s) return cot_fail(fault, COT_MEMORY, "out of memory");
    struct cot_ask a = cot_ask(j, COT_Q_PUT_STATEMENT);
    cot_ask_text(&a, form);
    cot_ask_int(&a, on);
    cot_ask_text(&a, text.s);
    enum cot_err e = cot_ask_run(&a, "write a statement", fault);
    cot_buf_free(&text);
    return e;
}

enum cot_err cot_journal_statement(struct cot_journal *j, const char *form, int32_t *on, struct cot_buf *jws,
                                   struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_STATEMENT);
    size_t len = 0;
    cot_ask_text(&a, form);
    bool found = cot_ask_row(&a);
    if (found) {
        *on = (int32_t)cot_col_int(&a, 0);
        const char *text = cot_col_bytes(&a, 1, &len);
        cot_buf_put(jws, text ? text : "", len);
    }
    enum cot_err e = cot_ask_done(&a, "read a statement", fault);
    if (!e && !found) e = cot_fail(fault, COT_NOT_FOUND, "no statement has been fetched yet");
    return e;
}
