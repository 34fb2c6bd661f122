/* Request signatures: one cover, one form of the headers. */
#include "cotyledger/wire/request.h"

#include <sodium.h>
#include <string.h>

#include "inner.h"

#define COVER "(\"@method\" \"@path\" \"@query\" \"content-digest\" \"content-type\" \"cotyledger-house\")"
#define LABEL "cot="

void cot_content_digest(const void *body, size_t len, struct cot_buf *out)
{
    uint8_t sum[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(sum, body, len);
    cot_buf_str(out, "sha-256=:");
    cot_put_base64(out, sum, sizeof sum);
    cot_buf_str(out, ":");
}

void cot_signature_base(const char *const (*lines)[2], size_t n, const char *params, struct cot_buf *out)
{
    for (size_t i = 0; i < n; i++) {
        cot_buf_fmt(out, "\"%s\": ", lines[i][0]);
        cot_buf_str(out, lines[i][1]);
        cot_buf_str(out, "\n");
    }
    cot_buf_str(out, "\"@signature-params\": ");
    cot_buf_str(out, params);
}

/* The parameters' one form, without the label. */
static void put_params(struct cot_buf *out, const struct cot_signature_params *p)
{
    cot_buf_fmt(out, COVER ";created=%lld;nonce=\"", (long long)p->created);
    cot_put_b64(out, p->nonce, sizeof p->nonce);
    cot_buf_fmt(out, "\";keyid=\"%s\";alg=\"ed25519\";tag=\"cotyledger-request-v1\"", p->tag);
}

void cot_request_base(const struct cot_request *r, const struct cot_signature_params *p, const char *content_digest,
                      struct cot_buf *out)
{
    char house[COT_HOUSE_TEXT];
    struct cot_buf query = {0}, params = {0};
    cot_house_text(&r->house, house);
    cot_buf_fmt(&query, "?%s", r->query);
    put_params(&params, p);
    if (query.failed || params.failed) {
        out->failed = true;
    } else {
        const char *const lines[][2] = {{"@method", r->method},
                                        {"@path", r->path},
                                        {"@query", query.s},
                                        {"content-digest", content_digest},
                                        {"content-type", r->content_type},
                                        {"cotyledger-house", house}};
        cot_signature_base(lines, sizeof lines / sizeof lines[0], params.s, out);
    }
    cot_buf_free(&query);
    cot_buf_free(&params);
}

/* Visible ASCII, and blanks inside when `blanks`: a line break in a component could make one base out of another. */
static bool plain(const char *s, bool blanks)
{
    size_t n = strlen(s);
    for (size_t i = 0; i < n; i++)
        if ((s[i] < 0x21 || s[i] > 0x7E) && !(blanks && s[i] == ' ' && i > 0 && i + 1 < n)) return false;
    return true;
}

static bool components_plain(const struct cot_request *r)
{
    return r->method[0] && plain(r->method, false) && r->path[0] == '/' && plain(r->path, false) &&
           plain(r->query, false) && r->content_type[0] && plain(r->content_type, true);
}

void cot_request_sign(const struct cot_request *r, const struct cot_signature_params *p, const struct cot_keypair *k,
                      struct cot_buf *content_digest, struct cot_buf *signature_input, struct cot_buf *signature)
{
    uint8_t sig[crypto_sign_BYTES];
    struct cot_buf base = {0};
    cot_buf_clear(content_digest);
    cot_buf_clear(signature_input);
    cot_buf_clear(signature);
    cot_content_digest(r->body, r->body_len, content_digest);
    cot_buf_str(signature_input, LABEL);
    put_params(signature_input, p);
    if (!content_digest->failed) cot_request_base(r, p, content_digest->s, &base);
    if (base.failed || !base.s || !components_plain(r)) {
        signature->failed = true;
    } else {
        crypto_sign_detached(sig, NULL, (const uint8_t *)base.s, base.len, k->secret);
        cot_buf_str(signature, LABEL ":");
        cot_put_base64(signature, sig, sizeof sig);
        cot_buf_str(signature, ":");
    }
    cot_buf_free(&base);
}

enum cot_err cot_signature_input_parse(const char *value, struct cot_signature_params *out, struct cot_fault *fault)
{
    struct cot_scan s = {value, value + strlen(value), false};
    memset(out, 0, sizeof *out);
    cot_scan_lit(&s, LABEL COVER ";created=");
    out->created = cot_scan_int(&s, 0);
    cot_scan_lit(&s, ";nonce=\"");
    cot_scan_b64(&s, out->nonce, sizeof out->nonce);
    cot_scan_lit(&s, "\";keyid=\"");
    cot_scan_tag(&s, out->tag);
    cot_scan_lit(&s, "\";alg=\"ed25519\";tag=\"cotyledger-request-v1\"");
    if (!cot_scan_done(&s) || out->created > 999999999999999LL)
        return cot_fail(fault, COT_MALFORMED, "Signature-Input is not in the one form that this protocol has");
    return COT_OK;
}

/* `cot=:BASE64:` */
static bool signature_parse(const char *value, uint8_t sig[static crypto_sign_BYTES])
{
    static const char before[] = LABEL ":";
    size_t len = strlen(value), n = sodium_base64_ENCODED_LEN(crypto_sign_BYTES, sodium_base64_VARIANT_ORIGINAL) - 1,
           got = 0;
    return len == sizeof before - 1 + n + 1 && memcmp(value, before, sizeof before - 1) == 0 && value[len - 1] == ':' &&
           sodium_base642bin(sig, crypto_sign_BYTES, value + sizeof before - 1, n, NULL, &got, NULL,
                             sodium_base64_VARIANT_ORIGINAL) == 0 &&
           got == crypto_sign_BYTES;
}

static bool digest_fits(const struct cot_request *r, const char *content_digest, enum cot_err *err)
{
    struct cot_buf want = {0};
    cot_content_digest(r->body, r->body_len, &want);
    *err = want.failed ? COT_MEMORY : COT_OK;
    bool same =
        !want.failed && strlen(content_digest) == want.len && sodium_memcmp(content_digest, want.s, want.len) == 0;
    cot_buf_free(&want);
    return same;
}

enum cot_err cot_request_verify(const struct cot_request *r, const struct cot_id *pub, const char *content_digest,
                                const char *signature_input, const char *signature, struct cot_fault *fault)
{
    uint8_t sig[crypto_sign_BYTES];
    struct cot_signature_params params;
    struct cot_buf base = {0};
    if (!components_plain(r))
        return cot_fail(fault, COT_MALFORMED,
                        "the request's method, path, query or content type has characters that cannot be signed");
    enum cot_err err = cot_signature_input_parse(signature_input, &params, fault);
    if (err) return err;
    if (!signature_parse(signature, sig))
        return cot_fail(fault, COT_MALFORMED, "Signature is not cot=:...: with 64 bytes of base64");
    bool fits = digest_fits(r, content_digest, &err);
    if (err) return cot_fail(fault, COT_MEMORY, "out of memory");
    if (!fits) return cot_fail(fault, COT_UNAUTHENTIC, "Content-Digest is not the digest of the body that came");
    cot_request_base(r, &params, content_digest, &base);
    if (base.failed) err = cot_fail(fault, COT_MEMORY, "out of memory");
    else if (crypto_sign_verify_detached(sig, (const uint8_t *)base.s, base.len, pub->b) != 0)
        err = cot_fail(fault, COT_UNAUTHENTIC, "the request's signature is not by the key of device %s", params.tag);
    cot_buf_free(&base);
    return err;
}
