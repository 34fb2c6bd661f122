/* Invitations and the proof with which a new device joins. */
#include "cotyledger/wire/request.h"

#include <sodium.h>
#include <string.h>

#include "inner.h"

#define INVITATION "cotyledger-invitation:1:"

void cot_invitation_text(const struct cot_invitation *i, struct cot_buf *out)
{
    cot_buf_str(out, INVITATION);
    cot_put_b64(out, i->house.b, sizeof i->house.b);
    cot_buf_str(out, ":");
    cot_put_b64(out, i->secret, sizeof i->secret);
    cot_buf_str(out, ":");
    cot_put_b64(out, i->fingerprint.b, sizeof i->fingerprint.b);
    cot_buf_str(out, ":");
    if (i->has_pin) cot_put_b64(out, i->pin.b, sizeof i->pin.b);
    else cot_buf_str(out, "-");
    cot_buf_str(out, ":");
    cot_buf_str(out, i->url);
}

static bool blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

static void scan_pin(struct cot_scan *s, struct cot_invitation *out)
{
    out->has_pin = s->p < s->end && *s->p != '-';
    if (out->has_pin) cot_scan_b64(s, out->pin.b, sizeof out->pin.b);
    else cot_scan_lit(s, "-");
}

/* The rest of the line: http:// or https://, a host, nothing but visible ASCII, no query or fragment. A pin needs
 * https. */
static void scan_url(struct cot_scan *s, struct cot_invitation *out)
{
    size_t n = (size_t)(s->end - s->p);
    if (s->bad || n >= sizeof out->url) {
        s->bad = true;
        return;
    }
    memcpy(out->url, s->p, n);
    out->url[n] = '\0';
    size_t scheme = strncmp(out->url, "https://", 8) == 0                   ? 8
                    : strncmp(out->url, "http://", 7) == 0 && !out->has_pin ? 7
                                                                            : 0;
    s->bad = scheme == 0 || out->url[scheme] == '\0' || out->url[scheme] == '/';
    for (size_t i = 0; i < n; i++)
        if (out->url[i] < 0x21 || out->url[i] > 0x7E || strchr("?#\"<>\\`", out->url[i])) s->bad = true;
    s->p = s->end;
}

enum cot_err cot_invitation_parse(const char *text, size_t len, struct cot_invitation *out, struct cot_fault *fault)
{
    while (len > 0 && blank(text[len - 1])) len--;
    while (len > 0 && blank(text[0])) text++, len--;
    struct cot_scan s = {text, text + len, false};
    memset(out, 0, sizeof *out);
    cot_scan_lit(&s, INVITATION);
    cot_scan_b64(&s, out->house.b, sizeof out->house.b);
    cot_scan_lit(&s, ":");
    cot_scan_b64(&s, out->secret, sizeof out->secret);
    cot_scan_lit(&s, ":");
    cot_scan_b64(&s, out->fingerprint.b, sizeof out->fingerprint.b);
    cot_scan_lit(&s, ":");
    scan_pin(&s, out);
    cot_scan_lit(&s, ":");
    scan_url(&s, out);
    if (cot_scan_done(&s)) return COT_OK;
    sodium_memzero(out, sizeof *out);
    cot_fail(fault, COT_MALFORMED, "this is not a whole invitation");
    if (fault) cot_hint(fault, "copy the whole line, from " INVITATION " to the end of the server's address");
    return COT_MALFORMED;
}

void cot_invitation_hash(const uint8_t secret[static 16], struct cot_id *hash)
{
    static const char tag[] = "cotyledger invitation v1";
    crypto_hash_sha256_state h;
    crypto_hash_sha256_init(&h);
    crypto_hash_sha256_update(&h, (const uint8_t *)tag, sizeof tag - 1);
    crypto_hash_sha256_update(&h, secret, 16);
    crypto_hash_sha256_final(&h, hash->b);
}

void cot_join_sign(const struct cot_house_id *house, const struct cot_id *invitation_hash, const struct cot_keypair *k,
                   struct cot_buf *jws)
{
    struct cot_buf b = {0};
    cot_buf_str(&b, "{\"house\":\"");
    cot_put_b64(&b, house->b, sizeof house->b);
    cot_buf_str(&b, "\",\"invitation\":\"");
    cot_put_b64(&b, invitation_hash->b, sizeof invitation_hash->b);
    cot_buf_str(&b, "\",\"key\":\"");
    cot_put_b64(&b, k->pub.b, sizeof k->pub.b);
    cot_buf_str(&b, "\"}");
    if (b.failed) jws->failed = true;
    else cot_jws_sign(COT_JWS_JOIN, b.s, b.len, k, jws);
    cot_buf_free(&b);
}

enum cot_err cot_join_open(const char *jws, size_t len, const struct cot_house_id *house,
                           struct cot_id *invitation_hash, struct cot_id *key, struct cot_fault *fault)
{
    struct cot_house_id named;
    struct cot_buf payload = {0}, again = {0};
    enum cot_err err = cot_jws_peek(COT_JWS_JOIN, jws, len, &payload, fault);
    if (err) goto out;
    struct cot_scan s = {payload.s, payload.s + payload.len, false};
    cot_scan_lit(&s, "{\"house\":\"");
    cot_scan_b64(&s, named.b, sizeof named.b);
    cot_scan_lit(&s, "\",\"invitation\":\"");
    cot_scan_b64(&s, invitation_hash->b, sizeof invitation_hash->b);
    cot_scan_lit(&s, "\",\"key\":\"");
    cot_scan_b64(&s, key->b, sizeof key->b);
    cot_scan_lit(&s, "\"}");
    if (!cot_scan_done(&s)) {
        err = cot_fail(fault, COT_MALFORMED, "join proof: its payload is not in the one form that a join proof has");
        goto out;
    }
    err = cot_jws_open(COT_JWS_JOIN, jws, len, key, &again, fault);
    if (!err && sodium_memcmp(named.b, house->b, sizeof named.b) != 0)
        err = cot_fail(fault, COT_UNAUTHENTIC, "the join proof is for another house");
out:
    cot_buf_free(&payload);
    cot_buf_free(&again);
    return err;
}
