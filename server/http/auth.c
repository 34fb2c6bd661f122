/* Who asks: the request's signature under the device's key. Whether that device may is the use case's to judge. */
#include <inttypes.h>
#include <string.h>

#include "call.h"
#include "clock.h"
#include "cotyledger/wire/request.h"
#include "replay.h"

enum cot_err cot_call_house(struct cot_call *c, struct cot_fault *fault)
{
    const char *text = c->header[COT_H_HOUSE];
    if (text && cot_house_parse(text, strlen(text), &c->house)) return COT_OK;
    return cot_fail(fault, COT_MALFORMED, "header Cotyledger-House: the house's id is missing or cannot be read");
}

static enum cot_err check_clock(struct cot_call *c, int64_t created, struct cot_fault *fault)
{
    int64_t now = cot_clock_ms(), off = created - now / 1000;
    if (off >= -COT_CLOCK_TOLERANCE && off <= COT_CLOCK_TOLERANCE) return COT_OK;
    cot_buf_fmt(&c->extra, "\"now\":%" PRId64, now);
    cot_fail(fault, COT_CLOCK, "the request was signed %" PRId64 " seconds %s the server's time", off < 0 ? -off : off,
             off < 0 ? "before" : "after");
    return cot_hint(fault, "set this device's clock right");
}

static enum cot_err verify(struct cot_call *c, const struct cot_id *key, struct cot_fault *fault)
{
    struct cot_request r = {.method = c->method,
                            .path = c->path,
                            .query = c->query,
                            .content_type = c->header[COT_H_TYPE],
                            .body = c->body.s ? c->body.s : "",
                            .body_len = c->body.len,
                            .house = c->house};
    return cot_request_verify(&r, key, c->header[COT_H_DIGEST], c->header[COT_H_INPUT], c->header[COT_H_SIGNATURE],
                              fault);
}

/* A key in memory may be of before a restore: read anew, and if it is another one, try again. */
static enum cot_err verify_again(struct cot_call *c, struct cot_fault *fault)
{
    struct cot_session s;
    struct cot_id old = c->key;
    enum cot_err err = cot_session_open(c->http->books, &c->house, NULL, c->deadline, &s, fault);
    cot_session_close(&s);
    if (!err) err = cot_books_key(c->http->books, &c->house, c->tag, c->deadline, &c->key, fault);
    if (err) return err;
    if (cot_id_cmp(&old, &c->key) == 0)
        return cot_fail(fault, COT_UNAUTHENTIC, "the request's signature does not verify");
    return verify(c, &c->key, fault);
}

enum cot_err cot_call_authenticate(struct cot_call *c, struct cot_fault *fault)
{
    static const char *const names[COT_H_COUNT] = {"Cotyledger-House", "Content-Type", "Content-Digest",
                                                   "Signature-Input", "Signature"};
    for (int i = 0; i < COT_H_COUNT; i++)
        if (!c->header[i])
            return cot_fail(fault, COT_UNAUTHENTIC, "the request is not signed: header %s is missing", names[i]);
    struct cot_signature_params p;
    enum cot_err err = cot_call_house(c, fault);
    if (!err) err = cot_signature_input_parse(c->header[COT_H_INPUT], &p, fault);
    if (!err) err = check_clock(c, p.created, fault);
    if (err) return err;
    memcpy(c->tag, p.tag, sizeof c->tag);
    err = cot_books_key(c->http->books, &c->house, c->tag, c->deadline, &c->key, fault);
    bool known = !err;
    if (!err) err = verify(c, &c->key, fault);
    if (known && err == COT_UNAUTHENTIC) err = verify_again(c, fault);
    if (!err && !cot_replay_add(c->http->replay, &c->house, &p)) {
        cot_fail(fault, COT_UNAUTHENTIC, "this very request has been answered before");
        err = cot_hint(fault, "sign it again with a new nonce");
    }
    return err;
}

enum cot_err cot_call_session(struct cot_call *c, struct cot_session *s, struct cot_fault *fault)
{
    enum cot_err err = cot_session_open(c->http->books, &c->house, NULL, c->deadline, s, fault);
    if (err == COT_NOT_FOUND) return cot_fail(fault, COT_UNAUTHENTIC, "this house or device is not known here");
    return err ? err : cot_session_asker(s, c->tag, &c->key, fault);
}
