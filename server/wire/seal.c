/* The payloads of seal and head: written in one form, read in that form only. */
#include "cotyledger/wire/seal.h"

#include <string.h>

#include "inner.h"

static void put_b64_member(struct cot_buf *b, const char *before, const void *bytes, size_t len)
{
    cot_buf_str(b, before);
    cot_put_b64(b, bytes, len);
    cot_buf_str(b, "\"");
}

void cot_seal_sign(const struct cot_seal *s, const struct cot_keypair *k, struct cot_buf *jws)
{
    struct cot_buf b = {0};
    put_b64_member(&b, "{\"house\":\"", s->house.b, sizeof s->house.b);
    cot_buf_fmt(&b, ",\"device\":\"%s\",\"first\":%lld,\"last\":%lld", s->tag, (long long)s->first, (long long)s->last);
    put_b64_member(&b, ",\"before\":\"", s->before.b, sizeof s->before.b);
    put_b64_member(&b, ",\"after\":\"", s->after.b, sizeof s->after.b);
    cot_buf_str(&b, "}");
    if (b.failed) jws->failed = true;
    else cot_jws_sign(COT_JWS_SEAL, b.s, b.len, k, jws);
    cot_buf_free(&b);
}

static enum cot_err read_seal(const struct cot_buf *payload, struct cot_seal *out, struct cot_fault *fault)
{
    struct cot_scan s = {payload->s, payload->s + payload->len, false};
    memset(out, 0, sizeof *out);
    cot_scan_lit(&s, "{\"house\":\"");
    cot_scan_b64(&s, out->house.b, sizeof out->house.b);
    cot_scan_lit(&s, "\",\"device\":\"");
    cot_scan_tag(&s, out->tag);
    cot_scan_lit(&s, "\",\"first\":");
    out->first = cot_scan_int(&s, 1);
    cot_scan_lit(&s, ",\"last\":");
    out->last = cot_scan_int(&s, 1);
    cot_scan_lit(&s, ",\"before\":\"");
    cot_scan_b64(&s, out->before.b, sizeof out->before.b);
    cot_scan_lit(&s, "\",\"after\":\"");
    cot_scan_b64(&s, out->after.b, sizeof out->after.b);
    cot_scan_lit(&s, "\"}");
    if (!cot_scan_done(&s) || out->last < out->first)
        return cot_fail(fault, COT_MALFORMED, "seal: its payload is not in the one form that a seal has");
    return COT_OK;
}

enum cot_err cot_seal_open(const char *jws, size_t len, const struct cot_id *pub, struct cot_seal *out,
                           struct cot_fault *fault)
{
    struct cot_buf payload = {0};
    enum cot_err err = cot_jws_open(COT_JWS_SEAL, jws, len, pub, &payload, fault);
    if (!err) err = read_seal(&payload, out, fault);
    cot_buf_free(&payload);
    return err;
}

enum cot_err cot_seal_peek(const char *jws, size_t len, struct cot_seal *out, struct cot_fault *fault)
{
    struct cot_buf payload = {0};
    enum cot_err err = cot_jws_peek(COT_JWS_SEAL, jws, len, &payload, fault);
    if (!err) err = read_seal(&payload, out, fault);
    cot_buf_free(&payload);
    return err;
}

void cot_head_sign(const struct cot_head *h, const struct cot_keypair *house_key, struct cot_buf *jws)
{
    struct cot_buf b = {0};
    put_b64_member(&b, "{\"house\":\"", h->house.b, sizeof h->house.b);
    cot_buf_fmt(&b, ",\"epoch\":%lld,\"position\":%lld", (long long)h->epoch, (long long)h->position);
    put_b64_member(&b, ",\"ledger\":\"", h->ledger.b, sizeof h->ledger.b);
    cot_buf_str(&b, "}");
    if (b.failed) jws->failed = true;
    else cot_jws_sign(COT_JWS_HEAD, b.s, b.len, house_key, jws);
    cot_buf_free(&b);
}

enum cot_err cot_head_open(const char *jws, size_t len, const struct cot_id *house_pub, struct cot_head *out,
                           struct cot_fault *fault)
{
    struct cot_buf payload = {0};
    memset(out, 0, sizeof *out);
    enum cot_err err = cot_jws_open(COT_JWS_HEAD, jws, len, house_pub, &payload, fault);
    if (err) goto out;
    struct cot_scan s = {payload.s, payload.s + payload.len, false};
    cot_scan_lit(&s, "{\"house\":\"");
    cot_scan_b64(&s, out->house.b, sizeof out->house.b);
    cot_scan_lit(&s, "\",\"epoch\":");
    out->epoch = cot_scan_int(&s, 1);
    cot_scan_lit(&s, ",\"position\":");
    out->position = cot_scan_int(&s, 0);
    cot_scan_lit(&s, ",\"ledger\":\"");
    cot_scan_b64(&s, out->ledger.b, sizeof out->ledger.b);
    cot_scan_lit(&s, "\"}");
    if (!cot_scan_done(&s))
        err = cot_fail(fault, COT_MALFORMED, "head: its payload is not in the one form that a head has");
out:
    cot_buf_free(&payload);
    return err;
}
