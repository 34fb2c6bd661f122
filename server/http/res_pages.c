/* POST /v1/pages: a page of a device's journal. */
#include "call.h"

#include <stdlib.h>

#include "door.h"

static void write_ranges(struct cot_call *c, const struct cot_accepted *a)
{
    cot_buf_str(&c->reply, "{\"ranges\":[");
    for (size_t i = 0; i < a->count; i++)
        cot_buf_fmt(&c->reply, "%s{\"first\":%lld,\"last\":%lld,\"position\":%lld,\"receipt\":%lld}", i ? "," : "",
                    (long long)a->range[i].first, (long long)a->range[i].last, (long long)a->range[i].position,
                    (long long)a->range[i].receipt);
    cot_buf_str(&c->reply, "]}");
}

enum cot_err cot_res_pages(struct cot_call *c, struct cot_fault *fault)
{
    struct cot_accepted a;
    enum cot_err err = cot_door_take(c->http->books, &c->house, c->tag, &c->key, c->body.s ? c->body.s : "",
                                     c->body.len, c->deadline, &a, fault);
    if (err == COT_FORK || err == COT_GAP) {
        char chain[COT_ID_TEXT];
        cot_id_text(&a.chain, chain);
        cot_buf_fmt(&c->extra, "\"number\":%lld,\"chain\":\"%s\"", (long long)a.number, chain);
    }
    if (!err) write_ranges(c, &a);
    free(a.range);
    return err;
}
