/* Who this laptop is, where it stands, and its own entries. */
#include <string.h>

#include "cotyledger/wire/chain.h"
#include "journal/db.h"

enum cot_err cot_journal_identity(struct cot_journal *j, struct cot_identity *out, int64_t *generation,
                                  struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_IDENTITY);
    bool found = cot_ask_row(&a);
    memset(out, 0, sizeof *out);
    if (found) {
        size_t len;
        const char *url;
        cot_col_id(&a, 0, &out->house, sizeof out->house);
        cot_col_id(&a, 1, &out->house_key, sizeof out->house_key);
        cot_col_tag(&a, 2, out->tag);
        cot_col_id(&a, 3, &out->member, sizeof out->member);
        out->part = (enum cot_part)cot_col_int(&a, 4);
        cot_col_id(&a, 5, &out->farm, sizeof out->farm);
        url = cot_col_bytes(&a, 6, &len);
        snprintf(out->url, sizeof out->url, "%.*s", (int)len, url ? url : "");
        out->has_pin = cot_col_bytes(&a, 7, &len) != NULL;
        if (out->has_pin) cot_col_id(&a, 7, &out->pin, sizeof out->pin);
        if (generation) *generation = cot_col_int(&a, 8);
    }
    enum cot_err e = cot_ask_done(&a, "read who this laptop is", fault);
    if (!e && !found) e = cot_fail(fault, COT_NOT_FOUND, "this laptop has not joined a house");
    return e;
}

enum cot_err cot_journal_set_identity(struct cot_journal *j, const struct cot_identity *me, int64_t generation,
                                      struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_SET_IDENTITY);
    cot_ask_blob(&a, &me->house, sizeof me->house);
    cot_ask_blob(&a, &me->house_key, sizeof me->house_key);
    cot_ask_text(&a, me->tag);
    cot_ask_blob(&a, &me->member, sizeof me->member);
    cot_ask_int(&a, me->part);
    cot_ask_blob(&a, &me->farm, sizeof me->farm);
    cot_ask_text(&a, me->url);
    cot_ask_blob(&a, me->has_pin ? &me->pin : NULL, sizeof me->pin);
    cot_ask_int(&a, generation);
    return cot_ask_run(&a, "write who this laptop is", fault);
}

enum cot_err cot_journal_where(struct cot_journal *j, struct cot_stand_at *out, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_WHERE);
    memset(out, 0, sizeof *out);
    if (cot_ask_row(&a)) {
        out->epoch = cot_col_int(&a, 0);
        out->position = cot_col_int(&a, 1);
        cot_col_id(&a, 2, &out->ledger, sizeof out->ledger);
        out->sure = cot_col_int(&a, 3);
        out->high = cot_col_int(&a, 4);
        out->last_sync = cot_col_int(&a, 5);
        out->stopped = (enum cot_standstill)cot_col_int(&a, 6);
    }
    return cot_ask_done(&a, "read the journal", fault);
}

enum cot_err cot_journal_set_where(struct cot_journal *j, const struct cot_stand_at *w, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_SET_WHERE);
    cot_ask_int(&a, w->epoch);
    cot_ask_int(&a, w->position);
    cot_ask_blob(&a, &w->ledger, sizeof w->ledger);
    cot_ask_int(&a, w->sure);
    cot_ask_int(&a, w->high);
    cot_ask_int(&a, w->last_sync);
    cot_ask_int(&a, w->stopped);
    return cot_ask_run(&a, "write in the journal", fault);
}

/* Reads a row of `own`; its body stays the statement's. */
static bool own_row(struct cot_ask *a, struct cot_own *o)
{
    memset(o, 0, sizeof *o);
    if (!cot_col_tag(a, 0, o->tag)) return false;
    o->number = cot_col_int(a, 1);
    o->clock = cot_col_int(a, 2);
    o->tick = (int32_t)cot_col_int(a, 3);
    if (!cot_col_id(a, 4, &o->digest, sizeof o->digest) || !cot_col_id(a, 5, &o->chain, sizeof o->chain)) return false;
    o->coded = cot_col_int(a, 6) != 0;
    o->state = (enum cot_own_state)cot_col_int(a, 7);
    o->body = cot_col_bytes(a, 8, &o->len);
    return true;
}

static enum cot_err head_last(struct cot_journal *j, const char *tag, struct cot_own_head *out, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_OWN_LAST);
    struct cot_own last;
    cot_ask_text(&a, tag);
    if (cot_ask_row(&a) && own_row(&a, &last)) {
        out->number = last.number;
        out->chain = last.chain;
        out->last_clock = last.clock;
        out->last_tick = last.tick;
    }
    return cot_ask_done(&a, "read the journal", fault);
}

static enum cot_err head_unsent(struct cot_journal *j, const char *tag, struct cot_own_head *out,
                                struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_OWN_UNSENT);
    cot_ask_text(&a, tag);
    while (cot_ask_row(&a)) {
        if (out->unsent++) continue;
        out->clock = cot_col_int(&a, 0);
        out->tick = (int32_t)cot_col_int(&a, 1);
    }
    return cot_ask_done(&a, "read the journal", fault);
}

enum cot_err cot_journal_own_head(struct cot_journal *j, const struct cot_house_id *house, const char *tag,
                                  struct cot_own_head *out, struct cot_fault *fault)
{
    memset(out, 0, sizeof *out);
    cot_chain_start(house, tag, &out->chain);
    enum cot_err e = head_last(j, tag, out, fault);
    if (!e) e = head_unsent(j, tag, out, fault);
    if (e) return e;
    struct cot_ask a = cot_ask(j, COT_Q_OWN_CODED);
    cot_ask_text(&a, tag);
    if (cot_ask_row(&a)) out->coded = cot_col_int(&a, 0);
    return cot_ask_done(&a, "read the journal", fault);
}

enum cot_err cot_journal_append(struct cot_journal *j, const struct cot_own *o, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_APPEND);
    cot_ask_text(&a, o->tag);
    cot_ask_int(&a, o->number);
    cot_ask_int(&a, o->clock);
    cot_ask_int(&a, o->tick);
    cot_ask_blob(&a, &o->digest, sizeof o->digest);
    cot_ask_blob(&a, &o->chain, sizeof o->chain);
    cot_ask_int(&a, o->coded);
    cot_ask_int(&a, o->state);
    cot_ask_blob(&a, o->body, o->len);
    return cot_ask_run(&a, "write in the journal", fault);
}

static enum cot_err walk(struct cot_ask *a, cot_own_fn *fn, void *ctx, struct cot_fault *fault)
{
    struct cot_own o;
    enum cot_err told = COT_OK;
    while (!told && cot_ask_row(a) && own_row(a, &o)) told = fn(ctx, &o, fault);
    enum cot_err e = cot_ask_done(a, "read the journal", told ? NULL : fault);
    return told ? told : e;
}

enum cot_err cot_journal_walk_own(struct cot_journal *j, const char *tag, int state, cot_own_fn *fn, void *ctx,
                                  struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_WALK_OWN);
    cot_ask_text(&a, tag);
    cot_ask_int(&a, state);
    return walk(&a, fn, ctx, fault);
}

enum cot_err cot_journal_own_range(struct cot_journal *j, const char *tag, int64_t first, int64_t last, cot_own_fn *fn,
                                   void *ctx, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_OWN_RANGE);
    cot_ask_text(&a, tag);
    cot_ask_int(&a, first);
    cot_ask_int(&a, last);
    return walk(&a, fn, ctx, fault);
}

enum cot_err cot_journal_own_digest(struct cot_journal *j, const char *tag, int64_t number, struct cot_id *digest,
                                    struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_OWN_DIGEST);
    cot_ask_text(&a, tag);
    cot_ask_int(&a, number);
    bool found = cot_ask_row(&a) && cot_col_id(&a, 0, digest, sizeof *digest);
    enum cot_err e = cot_ask_done(&a, "read the journal", fault);
    if (!e && !found) e = cot_fail(fault, COT_NOT_FOUND, "own entry %s %lld is not here", tag, (long long)number);
    return e;
}

enum cot_err cot_journal_own_mark(struct cot_journal *j, const char *tag, int64_t first, int64_t last,
                                  enum cot_own_state state, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_OWN_MARK);
    cot_ask_text(&a, tag);
    cot_ask_int(&a, first);
    cot_ask_int(&a, last);
    cot_ask_int(&a, state);
    return cot_ask_run(&a, "write in the journal", fault);
}

enum cot_err cot_journal_own_carried(struct cot_journal *j, const char *tag, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_OWN_CARRIED_OVER);
    cot_ask_text(&a, tag);
    return cot_ask_run(&a, "write in the journal", fault);
}

enum cot_err cot_journal_own_count(struct cot_journal *j, enum cot_own_state state, int64_t *n, struct cot_fault *fault)
{
    struct cot_ask a = cot_ask(j, COT_Q_OWN_COUNT);
    cot_ask_int(&a, state);
    *n = cot_ask_row(&a) ? cot_col_int(&a, 0) : 0;
    return cot_ask_done(&a, "read the journal", fault);
}
