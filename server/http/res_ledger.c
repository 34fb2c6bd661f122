/* GET /v1/ledger, /v1/head, /v1/chain: what a device fetches to read on from where it is. */
#include "call.h"

#include "clock.h"
#include "cotyledger/wire/entry.h"
#include "feed.h"

enum cot_err cot_res_ledger(struct cot_call *c, struct cot_fault *fault)
{
    int64_t after = -1, limit = COT_FEED_LIMIT;
    struct cot_session s = {0};
    enum cot_err err = cot_call_query_int(c, "after", 0, COT_INT_MAX, &after, fault);
    if (!err && after < 0) err = cot_fail(fault, COT_MALFORMED, "query: after is missing");
    if (!err) err = cot_call_query_int(c, "limit", 1, COT_FEED_LIMIT_MOST, &limit, fault);
    if (!err) err = cot_call_session(c, &s, fault);
    if (!err) err = cot_feed(&s, after, limit, &c->reply, fault);
    cot_session_close(&s);
    c->type = "application/x-cotyledger-feed";
    return err;
}

enum cot_err cot_res_head(struct cot_call *c, struct cot_fault *fault)
{
    struct cot_session s = {0};
    struct cot_buf jws = {0};
    enum cot_err err = cot_call_session(c, &s, fault);
    if (!err) err = cot_session_head(&s, &jws, fault);
    if (!err) cot_buf_fmt(&c->reply, "{\"head\":\"%s\",\"now\":%lld}", jws.s, (long long)cot_clock_ms());
    cot_session_close(&s);
    cot_buf_free(&jws);
    return err;
}

enum cot_err cot_res_chain(struct cot_call *c, struct cot_fault *fault)
{
    int64_t at = -1;
    struct cot_session s = {0};
    struct cot_id chain;
    char text[COT_ID_TEXT];
    enum cot_err err = cot_call_query_int(c, "at", 0, COT_INT_MAX, &at, fault);
    if (!err && at < 0) err = cot_fail(fault, COT_MALFORMED, "query: at is missing");
    if (!err) err = cot_call_session(c, &s, fault);
    if (!err) err = cot_chain_at(&s, at, &chain, fault);
    if (!err) {
        cot_id_text(&chain, text);
        cot_buf_fmt(&c->reply, "{\"epoch\":%lld,\"position\":%lld,\"ledger\":\"%s\"}", (long long)s.head.epoch,
                    (long long)at, text);
    }
    cot_session_close(&s);
    return err;
}
