/* Fetching: each answer is verified row by row and stored whole or not at all. */
#include <string.h>

#include "devices.h"
#include "sync/sync.h"

#define FIRST_LIMIT 500
#define LARGEST_LIMIT 5000

struct taking {
    struct cot_sync *s;
    struct cot_cli *cli;
    struct cot_device_list devices;
    struct cot_stand_at where; /* moves with the rows; becomes s->where when all is stored */
    int64_t receipt;           /* of the row before */
    int64_t own_last;          /* highest own number known here */
    int64_t rows;
    bool head_seen;
};

static enum cot_err own_row(struct taking *t, const struct cot_ledger_row *r, const struct cot_fact *f)
{
    struct cot_cli *cli = t->cli;
    struct cot_id digest;
    if (strcmp(r->tag, cli->me.tag) != 0) return COT_OK;
    if (r->number <= t->own_last) {
        enum cot_err e = cot_journal_own_digest(cli->journal, r->tag, r->number, &digest, &cli->fault);
        if (e) return e;
        if (cot_id_cmp(&digest, &r->digest) == 0)
            return cot_journal_own_mark(cli->journal, r->tag, r->number, r->number, COT_OWN_SENT, &cli->fault);
        t->where.stopped = COT_STOPPED_FORK;
        return COT_OK;
    }
    if (!f || r->number != t->own_last + 1) return COT_OK;
    /* Written under this tag but unknown here: this folder is an old copy of itself. Take the entry back. */
    struct cot_own o = {.number = r->number,
                        .clock = f->clock,
                        .tick = f->tick,
                        .digest = r->digest,
                        .state = COT_OWN_SENT,
                        .body = r->body,
                        .len = r->len};
    const struct cot_value *code = cot_fact_value(f, COT_F_CODE);
    size_t tag_len = strlen(r->tag);
    snprintf(o.tag, sizeof o.tag, "%s", r->tag);
    o.coded = code && !f->has_about && code->type == COT_T_TEXT && code->len > tag_len &&
              memcmp(code->v.text, r->tag, tag_len) == 0 && code->v.text[tag_len] == '-';
    for (size_t i = 0; i < t->devices.count; i++)
        if (strcmp(t->devices.item[i].tag, r->tag) == 0) o.chain = t->devices.item[i].chain;
    t->own_last = r->number;
    return cot_journal_append(cli->journal, &o, &cli->fault);
}

static enum cot_err take_row(struct taking *t, const struct cot_feed_item *i)
{
    struct cot_cli *cli = t->cli;
    struct cot_fact f;
    bool hole = i->what == COT_FEED_HOLE;
    struct cot_ledger_row r = {.position = i->position,
                               .receipt = i->receipt,
                               .number = i->number,
                               .digest = i->digest,
                               .chain = t->where.ledger,
                               .body = hole ? NULL : i->text,
                               .len = hole ? 0 : i->len};
    snprintf(r.tag, sizeof r.tag, "%s", i->tag);
    if (i->position != t->where.position + 1 || i->receipt < t->receipt)
        return cot_fail(&cli->fault, COT_UNAUTHENTIC, "position %lld does not follow %lld", (long long)i->position,
                        (long long)t->where.position);
    if (hole && cli->me.part != COT_PART_BUYER)
        return cot_fail(&cli->fault, COT_UNAUTHENTIC, "position %lld is kept from this laptop, which may see it",
                        (long long)i->position);
    enum cot_err e = hole ? COT_OK : cot_entry_parse(cli->decoder, i->text, i->len, &f, &cli->fault);
    if (!e) e = cot_devices_row(&t->devices, &r, hole ? NULL : &f, &cli->fault);
    if (e) return e;
    cot_ledger_next(&r.chain, r.position, r.receipt, r.tag, r.number, &r.digest);
    e = cot_journal_put_row(cli->journal, &r, &cli->fault);
    if (!e) e = own_row(t, &r, hole ? NULL : &f);
    t->where.position = r.position;
    t->where.ledger = r.chain;
    t->receipt = r.receipt;
    t->rows++;
    if (!hole) {
        int64_t place = f.clock < r.receipt ? f.clock : r.receipt;
        if (place > t->where.high) t->where.high = place;
    }
    return e;
}

static enum cot_err take_seal(struct taking *t, const struct cot_feed_item *i)
{
    struct cot_seal seal;
    enum cot_err e = cot_devices_seal(&t->devices, i->text, i->len, &seal, &t->cli->fault);
    if (e) return e;
    struct cot_kept_seal kept = {
        .position = t->where.position, .first = seal.first, .last = seal.last, .jws = i->text, .len = i->len};
    snprintf(kept.tag, sizeof kept.tag, "%s", seal.tag);
    return cot_journal_put_seal(t->cli->journal, &kept, &t->cli->fault);
}

static enum cot_err take_head(struct taking *t, const struct cot_feed_item *i)
{
    struct cot_head h;
    struct cot_fault *fault = &t->cli->fault;
    enum cot_err e = cot_head_open(i->text, i->len, &t->cli->me.house_key, &h, fault);
    if (e) return e;
    t->head_seen = true;
    if (memcmp(&h.house, &t->cli->me.house, sizeof h.house) != 0)
        return cot_fail(fault, COT_UNAUTHENTIC, "a head of another house");
    if (h.epoch != t->where.epoch || h.position < t->where.position) {
        cot_fail(fault, COT_CONFLICT, "the server was restored while this laptop fetched");
        return cot_hint(fault, "sync again");
    }
    if (h.position == t->where.position) {
        if (cot_id_cmp(&h.ledger, &t->where.ledger) != 0)
            return cot_fail(fault, COT_UNAUTHENTIC, "the ledger at position %lld is not the one that the house signed",
                            (long long)h.position);
        t->where.sure = h.position;
        t->where.last_sync = cot_now_ms();
    }
    t->s->head = h;
    return COT_OK;
}

static enum cot_err take_item(struct taking *t, const struct cot_feed_item *i)
{
    if (t->head_seen) return cot_fail(&t->cli->fault, COT_MALFORMED, "the feed goes on after its head");
    switch (i->what) {
    case COT_FEED_ROW:
    case COT_FEED_HOLE:
        return take_row(t, i);
    case COT_FEED_SEAL:
        return take_seal(t, i);
    case COT_FEED_HEAD:
        return take_head(t, i);
    }
    return cot_fail(&t->cli->fault, COT_MALFORMED, "a line of the feed that is not known");
}

static enum cot_err last_receipt(void *ctx, const struct cot_ledger_row *r, struct cot_fault *fault)
{
    (void)fault;
    *(int64_t *)ctx = r->receipt;
    return COT_OK;
}

static enum cot_err take_all(struct taking *t, const char *bytes, size_t len)
{
    struct cot_cli *cli = t->cli;
    struct cot_own_head own;
    struct cot_feed_item item;
    size_t at = 0;
    enum cot_err e = cot_journal_where(cli->journal, &t->where, &cli->fault);
    if (!e && t->where.position != t->s->where.position)
        e = cot_fail(&cli->fault, COT_CONFLICT, "another cotyl is syncing in this folder");
    if (!e) e = cot_devices_load(cli->journal, &cli->me, &t->devices, &cli->fault);
    if (!e) e = cot_journal_own_head(cli->journal, &cli->me.house, cli->me.tag, &own, &cli->fault);
    if (!e) e = cot_journal_walk_ledger(cli->journal, t->where.position - 1, last_receipt, &t->receipt, &cli->fault);
    if (e) return e;
    t->own_last = own.number;
    while (!e && at < len) {
        e = cot_feed_next(bytes, len, &at, &item, &cli->fault);
        if (e == COT_NOT_FOUND) e = cot_fail(&cli->fault, COT_NETWORK, "the server's answer was cut short");
        if (!e) e = take_item(t, &item);
    }
    if (!e && !t->head_seen) e = cot_fail(&cli->fault, COT_NETWORK, "the server's answer was cut short");
    if (!e) e = cot_devices_end(&t->devices, &cli->fault);
    if (!e) e = cot_devices_store(cli->journal, &t->devices, &cli->fault);
    return e ? e : cot_journal_set_where(cli->journal, &t->where, &cli->fault);
}

enum cot_err cot_sync_take(struct cot_sync *s, const char *bytes, size_t len, bool *more)
{
    struct taking t = {.s = s, .cli = s->cli};
    struct cot_cli *cli = s->cli;
    enum cot_err e = cot_journal_begin(cli->journal, &cli->fault);
    if (!e) e = take_all(&t, bytes, len);
    if (!e) e = cot_journal_commit(cli->journal, &cli->fault);
    if (e) cot_journal_rollback(cli->journal);
    cot_devices_free(&t.devices);
    if (e) return e;
    s->where = t.where;
    s->fetched += t.rows;
    *more = s->head.position > s->where.position;
    if (*more && !t.rows)
        return cot_fail(&cli->fault, COT_NETWORK, "the server's head is at %lld, but it sends nothing past %lld",
                        (long long)s->head.position, (long long)s->where.position);
    return COT_OK;
}

/* What no signed head has confirmed goes again, so that the next sync starts from what is sure. */
static enum cot_err forget_unsure(struct cot_sync *s)
{
    struct cot_cli *cli = s->cli;
    struct cot_fault first = cli->fault;
    struct cot_stand_at w = s->where;
    if (w.position <= w.sure) return cli->fault.code;
    w.position = w.sure;
    cot_ledger_start(&cli->me.house, &w.ledger);
    enum cot_err e = cot_journal_begin(cli->journal, &cli->fault);
    if (!e && w.sure) e = cot_journal_chain_at(cli->journal, w.sure, &w.ledger, &cli->fault);
    if (!e) e = cot_journal_drop_after(cli->journal, w.sure, &cli->fault);
    if (!e) e = cot_sync_devices_again(s);
    if (!e) e = cot_journal_set_where(cli->journal, &w, &cli->fault);
    if (!e) e = cot_journal_commit(cli->journal, &cli->fault);
    if (e) {
        cot_journal_rollback(cli->journal);
        return e;
    }
    s->where = w;
    cli->fault = first;
    return first.code;
}

enum cot_err cot_sync_fetch(struct cot_sync *s)
{
    bool more = true;
    int64_t limit = FIRST_LIMIT;
    enum cot_err e = COT_OK;
    cot_net_doing(s->net, "fetching");
    while (!e && more) {
        char query[80];
        snprintf(query, sizeof query, "after=%lld&limit=%lld", (long long)s->where.position, (long long)limit);
        e = cot_sync_call(s, "GET", "/v1/ledger", query, "", NULL, 0);
        if (!e) e = cot_sync_take(s, s->answer.s ? s->answer.s : "", s->answer.len, &more);
        limit = limit * 2 < LARGEST_LIMIT ? limit * 2 : LARGEST_LIMIT;
    }
    if (e == COT_UNAUTHENTIC || e == COT_MALFORMED) {
        cot_within(&s->cli->fault, "nothing was taken over, since what the server sent does not verify");
        cot_hint(&s->cli->fault, "tell whoever runs the server (cotyld verify); what is here stays as it was");
        e = forget_unsure(s);
    }
    return e;
}
