/* Sending: unsent entries in sealed pages. They become sent when they are seen in the ledger, not before. */
#include <string.h>

#include "sync/sync.h"

struct paging {
    int64_t first, last; /* asked for; last is lowered to what fits */
    int64_t end;         /* last put */
    struct cot_id before, after;
    struct cot_buf lines;
};

static enum cot_err put_entry(void *ctx, const struct cot_own *o, struct cot_fault *fault)
{
    struct paging *p = ctx;
    (void)fault;
    if (o->number == p->first - 1) p->before = o->chain;
    if (o->number < p->first || o->number > p->last) return COT_OK;
    if (p->end && p->lines.len + o->len + 2048 > COT_PAGE_BYTES_MAX) p->last = p->end; /* 2048: the seal's line */
    if (o->number > p->last) return COT_OK;
    cot_buf_put(&p->lines, o->body, o->len);
    cot_buf_put(&p->lines, "\n", 1);
    p->end = o->number;
    p->after = o->chain;
    return COT_OK;
}

enum cot_err cot_sync_page(struct cot_cli *cli, int64_t first, int64_t *last, struct cot_buf *page)
{
    struct paging p = {.first = first, .last = *last};
    struct cot_seal seal = {.house = cli->me.house, .first = first};
    struct cot_buf jws = {0};
    cot_chain_start(&cli->me.house, cli->me.tag, &p.before);
    int64_t most = first + COT_PAGE_ENTRIES_MAX - 1;
    if (p.last > most) p.last = most;
    enum cot_err e = cot_journal_own_range(cli->journal, cli->me.tag, first - 1, p.last, put_entry, &p, &cli->fault);
    if (!e && !p.end) e = cot_fail(&cli->fault, COT_INTERNAL, "no own entry %lld to send", (long long)first);
    if (e) goto out;
    snprintf(seal.tag, sizeof seal.tag, "%s", cli->me.tag);
    seal.last = p.end;
    seal.before = p.before;
    seal.after = p.after;
    cot_seal_sign(&seal, &cli->key, &jws);
    cot_page_start(page, jws.s, jws.len);
    cot_buf_put(page, p.lines.s, p.lines.len);
    *last = p.end;
    if (jws.failed || p.lines.failed || page->failed) e = cot_fail(&cli->fault, COT_MEMORY, "out of memory");
out:
    cot_buf_free(&jws);
    cot_buf_free(&p.lines);
    return e;
}

static enum cot_err remember(struct cot_sync *s, enum cot_standstill why)
{
    struct cot_fault first = s->cli->fault, second = {0};
    s->where.stopped = why;
    if (cot_journal_set_where(s->cli->journal, &s->where, &second)) {
        s->cli->fault = second;
        return second.code;
    }
    s->cli->fault = first;
    return first.code;
}

enum cot_err cot_sync_forked(struct cot_sync *s)
{
    cot_fail(&s->cli->fault, COT_FORK,
             "this laptop's journal (%s) went on twice: the house has other entries under its numbers", s->cli->me.tag);
    cot_hint(&s->cli->fault,
             "was this folder copied, or restored from an old copy? `cotyl rejoin` gives this laptop a new tag and "
             "carries over what waits here; nothing is lost or counted twice");
    return remember(s, COT_STOPPED_FORK);
}

enum cot_err cot_sync_closed(struct cot_sync *s)
{
    cot_fail(&s->cli->fault, COT_CLOSED, "this laptop (%s) has been closed: the house takes nothing more from it",
             s->cli->me.tag);
    cot_hint(&s->cli->fault,
             "what waits here is kept: `cotyl export-unsent FILE`, and one of the staff carries it over with "
             "`cotyl carry FILE`");
    return remember(s, COT_STOPPED_CLOSED);
}

/* The server's head of this device lies before what is to be sent: go on from there, if it is this journal's past. */
static enum cot_err after_gap(struct cot_sync *s, int64_t *first)
{
    int64_t number = -1;
    if (!cot_problem_int(s->answer.s ? s->answer.s : "", s->answer.len, "number", &number) || number < 0 ||
        number + 1 >= *first)
        return cot_fail(&s->cli->fault, COT_GAP,
                        "the server misses earlier entries of this laptop, but does not say which");
    *first = number + 1;
    return COT_OK;
}

static enum cot_err send_from(struct cot_sync *s, int64_t first, int64_t last)
{
    struct cot_buf page = {0};
    enum cot_err e = COT_OK;
    bool gap_told = false;
    while (!e && first <= last) {
        int64_t end = last;
        cot_buf_clear(&page);
        e = cot_sync_page(s->cli, first, &end, &page);
        if (e) break;
        e = cot_sync_call(s, "POST", "/v1/pages", "", "application/x-ndjson", page.s, page.len);
        if (e == COT_GAP && !gap_told) {
            gap_told = true;
            e = after_gap(s, &first);
            continue;
        }
        if (!e) s->sent += end - first + 1;
        first = end + 1;
    }
    cot_buf_free(&page);
    if (e == COT_FORK) return cot_sync_forked(s);
    return e;
}

enum cot_err cot_sync_send(struct cot_sync *s)
{
    struct cot_own_head own;
    struct cot_cli *cli = s->cli;
    enum cot_err e = cot_journal_own_head(cli->journal, &cli->me.house, cli->me.tag, &own, &cli->fault);
    if (e || !own.unsent) return e;
    cot_net_doing(s->net, "sending");
    return send_from(s, own.number - own.unsent + 1, own.number);
}
