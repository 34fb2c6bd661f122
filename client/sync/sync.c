/* The order of a sync, and what other commands call: cot_sync_now. */
#include "sync/sync.h"

#include <string.h>

#include "cli.h"

enum cot_err cot_sync_open(struct cot_cli *cli, bool quiet, struct cot_sync *s)
{
    memset(s, 0, sizeof *s);
    s->cli = cli;
    s->quiet = quiet;
    if (!cli->decoder) cli->decoder = cot_decoder_new();
    if (!cli->decoder) return cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    return cot_net_open(cli->me.url, cli->me.has_pin ? &cli->me.pin : NULL, quiet, &s->net, &cli->fault);
}

void cot_sync_close(struct cot_sync *s)
{
    cot_net_close(s->net);
    cot_buf_free(&s->answer);
    s->net = NULL;
}

enum cot_err cot_sync_call(struct cot_sync *s, const char *method, const char *path, const char *query,
                           const char *content_type, const void *body, size_t len)
{
    struct cot_call c = {method, path, query, content_type, body, len, &s->cli->me.house, s->cli->me.tag, &s->cli->key};
    return cot_net_call(s->net, &c, &s->answer, &s->cli->fault);
}

static enum cot_err read_head(struct cot_sync *s)
{
    char jws[1024];
    struct cot_fault *fault = &s->cli->fault;
    enum cot_err e = cot_sync_call(s, "GET", "/v1/head", "", "", NULL, 0);
    if (e) return e;
    if (!cot_problem_text(s->answer.s ? s->answer.s : "", s->answer.len, "head", jws, sizeof jws))
        return cot_fail(fault, COT_NETWORK, "the server's head cannot be read");
    e = cot_head_open(jws, strlen(jws), &s->cli->me.house_key, &s->head, fault);
    if (!e && memcmp(&s->head.house, &s->cli->me.house, sizeof s->head.house) != 0)
        e = cot_fail(fault, COT_UNAUTHENTIC, "the server answered with another house's head");
    return e;
}

/* What the server says of itself against what is here. */
static enum cot_err compare_heads(struct cot_sync *s)
{
    struct cot_fault *fault = &s->cli->fault;
    if (s->where.epoch == 0) {
        s->where.epoch = s->head.epoch;
        cot_ledger_start(&s->cli->me.house, &s->where.ledger);
        return cot_journal_set_where(s->cli->journal, &s->where, fault);
    }
    if (s->head.epoch > s->where.epoch) return cot_sync_go_back(s);
    bool less = s->head.epoch < s->where.epoch || s->head.position < s->where.position;
    bool other = s->head.position == s->where.position && cot_id_cmp(&s->head.ledger, &s->where.ledger) != 0;
    if (!less && !other) return COT_OK;
    cot_fail(fault, COT_UNAUTHENTIC,
             "the server's ledger (epoch %lld, position %lld) is not a later one than this laptop's (epoch %lld, "
             "position %lld)",
             (long long)s->head.epoch, (long long)s->head.position, (long long)s->where.epoch,
             (long long)s->where.position);
    return cot_hint(
        fault,
        "was it restored from a backup? whoever runs it must say so once: cotyld restored. Nothing was changed here");
}

static enum cot_err in_order(struct cot_sync *s)
{
    enum cot_err e = cot_journal_where(s->cli->journal, &s->where, &s->cli->fault);
    if (!e) e = read_head(s);
    if (!e) e = compare_heads(s);
    if (!e) e = cot_sync_fetch(s);
    if (!e) e = cot_sync_give_back(s);
    if (!e && s->given_back) e = cot_sync_fetch(s); /* own entries among them are sent now */
    if (!e && s->where.stopped == COT_STOPPED_FORK) e = cot_sync_forked(s);
    if (!e) e = cot_sync_send(s);
    if (!e && s->sent) e = cot_sync_fetch(s);
    if (!e && s->where.stopped == COT_STOPPED_FORK) e = cot_sync_forked(s);
    return e;
}

enum cot_err cot_sync_run(struct cot_sync *s)
{
    struct cot_cli *cli = s->cli;
    cot_net_doing(s->net, "asking");
    enum cot_err e = in_order(s);
    if (e == COT_CLOSED) e = cot_sync_closed(s); /* whichever request was refused */
    struct cot_fault first = cli->fault;
    /* Whatever was stored before a failure is in the book too. A buyer's book is wanted below. */
    bool changed = s->fetched || s->sent || s->restored, buyer = cli->me.part == COT_PART_BUYER;
    enum cot_err reload =
        (cli->book && changed) || (buyer && !e && (!cli->book || changed)) ? cot_cli_reload(cli) : COT_OK;
    if (e) cli->fault = first;
    if (!e) e = reload;
    if (!e && buyer) e = cot_sync_buyer(s);
    cot_net_doing(s->net, NULL);
    return e;
}

enum cot_err cot_sync_now(struct cot_cli *cli, bool quiet)
{
    struct cot_sync s;
    enum cot_err e = cot_sync_open(cli, quiet, &s);
    if (!e) e = cot_sync_run(&s);
    cot_sync_close(&s);
    return e;
}
