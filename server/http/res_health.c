/* GET /healthz: the process answers. GET /readyz: the database is reached and its schema is this program's. */
#include "call.h"

enum cot_err cot_res_health(struct cot_call *c, struct cot_fault *fault)
{
    (void)fault;
    c->type = "text/plain; charset=utf-8";
    cot_buf_str(&c->reply, "ok\n");
    return COT_OK;
}

enum cot_err cot_res_ready(struct cot_call *c, struct cot_fault *fault)
{
    struct cot_fault why = {0};
    int64_t soon = cot_ticks_ms() + 3000;
    enum cot_err err = cot_store_ready(cot_books_store(c->http->books), soon < c->deadline ? soon : c->deadline, &why);
    if (err) return cot_fail(fault, COT_BUSY, "not ready");
    c->type = "text/plain; charset=utf-8";
    cot_buf_str(&c->reply, "ready\n");
    return COT_OK;
}
