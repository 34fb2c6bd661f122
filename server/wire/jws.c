/* Compact JWS with one fixed header a type, and the keys that sign. */
#include "cotyledger/wire/seal.h"

#include <sodium.h>
#include <string.h>

#include "inner.h"

static const char *const headers[] = {
    [COT_JWS_SEAL] = "{\"alg\":\"EdDSA\",\"typ\":\"cotyledger-seal+v1\"}",
    [COT_JWS_HEAD] = "{\"alg\":\"EdDSA\",\"typ\":\"cotyledger-head+v1\"}",
    [COT_JWS_STATEMENT] = "{\"alg\":\"EdDSA\",\"typ\":\"cotyledger-statement+v1\"}",
    [COT_JWS_JOIN] = "{\"alg\":\"EdDSA\",\"typ\":\"cotyledger-join+v1\"}",
};
static const char *const names[] = {
    [COT_JWS_SEAL] = "seal", [COT_JWS_HEAD] = "head", [COT_JWS_STATEMENT] = "statement", [COT_JWS_JOIN] = "join proof"};

#define SIGNATURE_TEXT COT_B64_LEN(crypto_sign_BYTES)

void cot_keypair_from_seed(const uint8_t seed[static 32], struct cot_keypair *k)
{
    crypto_sign_seed_keypair(k->pub.b, k->secret, seed);
}

void cot_keypair_new(struct cot_keypair *k)
{
    crypto_sign_keypair(k->pub.b, k->secret);
}

void cot_jws_sign(enum cot_jws type, const void *payload, size_t len, const struct cot_keypair *k, struct cot_buf *out)
{
    uint8_t signature[crypto_sign_BYTES];
    size_t start = out->len;
    cot_put_b64(out, headers[type], strlen(headers[type]));
    cot_buf_str(out, ".");
    cot_put_b64(out, payload, len);
    if (out->failed) return;
    crypto_sign_detached(signature, NULL, (const uint8_t *)out->s + start, out->len - start, k->secret);
    cot_buf_str(out, ".");
    cot_put_b64(out, signature, sizeof signature);
}

/* The parts of a JWS; all point into its text but the signature. */
struct parts {
    size_t signed_len;
    const char *payload;
    size_t payload_len;
    uint8_t signature[crypto_sign_BYTES];
};

static enum cot_err split(enum cot_jws type, const char *jws, size_t len, struct parts *out, struct cot_fault *fault)
{
    char header[128];
    size_t n = strlen(headers[type]);
    cot_b64_text(headers[type], n, header);
    n = COT_B64_LEN(n);
    if (len < n + 2 + SIGNATURE_TEXT || memcmp(jws, header, n) != 0 || jws[n] != '.')
        return cot_fail(fault, COT_MALFORMED, "not a %s: its first part is not the one that it must have", names[type]);
    out->signed_len = len - SIGNATURE_TEXT - 1;
    out->payload = jws + n + 1;
    out->payload_len = out->signed_len - n - 1;
    if (jws[out->signed_len] != '.' || memchr(out->payload, '.', out->payload_len) ||
        !cot_b64_parse(jws + out->signed_len + 1, SIGNATURE_TEXT, out->signature, sizeof out->signature))
        return cot_fail(fault, COT_MALFORMED, "%s: not three parts of base64url with a signature of 64 bytes",
                        names[type]);
    return COT_OK;
}

static enum cot_err decode(enum cot_jws type, const struct parts *p, struct cot_buf *payload, struct cot_fault *fault)
{
    size_t n = p->payload_len / 4 * 3 + (p->payload_len % 4) * 3 / 4;
    char *to = cot_buf_room(payload, n);
    if (!to) return cot_fail(fault, COT_MEMORY, "out of memory");
    if (!cot_b64_parse(p->payload, p->payload_len, to, n)) {
        *to = '\0';
        return cot_fail(fault, COT_MALFORMED, "%s: its payload is not base64url", names[type]);
    }
    payload->len += n;
    payload->s[payload->len] = '\0';
    return COT_OK;
}

enum cot_err cot_jws_peek(enum cot_jws type, const char *jws, size_t len, struct cot_buf *payload,
                          struct cot_fault *fault)
{
    struct parts p;
    enum cot_err err = split(type, jws, len, &p, fault);
    return err ? err : decode(type, &p, payload, fault);
}

enum cot_err cot_jws_open(enum cot_jws type, const char *jws, size_t len, const struct cot_id *pub,
                          struct cot_buf *payload, struct cot_fault *fault)
{
    struct parts p;
    enum cot_err err = split(type, jws, len, &p, fault);
    if (err) return err;
    if (crypto_sign_verify_detached(p.signature, (const uint8_t *)jws, p.signed_len, pub->b) != 0)
        return cot_fail(fault, COT_UNAUTHENTIC, "the signature of the %s is not by the key that it should be by",
                        names[type]);
    return decode(type, &p, payload, fault);
}
