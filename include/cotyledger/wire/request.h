/* Request signature: HTTP Message Signatures (RFC 9421), ed25519, with Content-Digest (RFC 9530).
 *
 * Covered, in this order and no other:
 *   "@method" "@path" "@query" "content-digest" "content-type" "cotyledger-house"
 * parameters, in this order: created, nonce, keyid, alg="ed25519", tag="cotyledger-request-v1"; keyid is the device's
 * tag, nonce 16 random bytes in base64url. Every signed request carries a body digest and a content type, an empty body
 * too. Label of the signature: "cot".
 */
#ifndef COTYLEDGER_WIRE_REQUEST_H
#define COTYLEDGER_WIRE_REQUEST_H

#include "cotyledger/wire/seal.h"

#define COT_CLOCK_TOLERANCE 300 /* seconds */

struct cot_request {
    const char *method; /* "GET", "POST" */
    const char *path;   /* "/v1/ledger" */
    const char *query;  /* without '?'; "" for none */
    const char *content_type;
    const void *body;
    size_t body_len;
    struct cot_house_id house;
};
struct cot_signature_params {
    int64_t created; /* seconds since 1970 */
    uint8_t nonce[16];
    char tag[COT_TAG_MAX + 1];
};

/* RFC 9530: `sha-256=:...:` */
void cot_content_digest(const void *body, size_t len, struct cot_buf *out);
/* The signature base of RFC 9421 section 2.5 for our fixed cover; exposed for the published vectors. */
void cot_request_base(const struct cot_request *r, const struct cot_signature_params *p, const char *content_digest,
                      struct cot_buf *out);
/* RFC 9421's general form for tests with other covers: lines of `"name": value`, then @signature-params. */
void cot_signature_base(const char *const (*lines)[2], size_t n, const char *params, struct cot_buf *out);

/* Values for the headers Content-Digest, Signature-Input and Signature. */
void cot_request_sign(const struct cot_request *r, const struct cot_signature_params *p, const struct cot_keypair *k,
                      struct cot_buf *content_digest, struct cot_buf *signature_input, struct cot_buf *signature);

/* Reads Signature-Input strictly (our one form), to learn who signed and when. MALFORMED. */
COT_MUSTCHECK enum cot_err cot_signature_input_parse(const char *value, struct cot_signature_params *out,
                                                     struct cot_fault *fault);
/* Verifies all three headers against the request. Time and nonce are the caller's to judge. UNAUTHENTIC, MALFORMED. */
COT_MUSTCHECK enum cot_err cot_request_verify(const struct cot_request *r, const struct cot_id *pub,
                                              const char *content_digest, const char *signature_input,
                                              const char *signature, struct cot_fault *fault);

/* Invitation: what a manager hands to a new member, one line, copied from a screen or a file:
 *   cotyledger-invitation:1:HOUSE:SECRET:FINGERPRINT:PIN:URL
 * HOUSE base64url(16); SECRET base64url(16); FINGERPRINT = base64url(SHA-256 of the house's public key);
 * PIN = base64url(SHA-256 of the server certificate's SubjectPublicKeyInfo) or "-" on loopback without TLS; URL = the
 * server's address. */
struct cot_invitation {
    struct cot_house_id house;
    uint8_t secret[16];
    struct cot_id fingerprint;
    bool has_pin;
    struct cot_id pin;
    char url[300];
};
void cot_invitation_text(const struct cot_invitation *i, struct cot_buf *out);
COT_MUSTCHECK enum cot_err cot_invitation_parse(const char *s, size_t len, struct cot_invitation *out,
                                                struct cot_fault *fault);
/* SHA-256("cotyledger invitation v1" || secret): what the server stores and the join proof names. */
void cot_invitation_hash(const uint8_t secret[static 16], struct cot_id *hash);
/* The join proof's JWS; and its check, which also returns the key it was made with. */
void cot_join_sign(const struct cot_house_id *house, const struct cot_id *invitation_hash, const struct cot_keypair *k,
                   struct cot_buf *jws);
COT_MUSTCHECK enum cot_err cot_join_open(const char *jws, size_t len, const struct cot_house_id *house,
                                         struct cot_id *invitation_hash, struct cot_id *key, struct cot_fault *fault);

/* Problem document (RFC 9457): {"type":"urn:cotyledger:problem:NAME","title":...,"status":...,"detail":...,"hint":...,
 * plus members of the case}. `extra` is NULL or JSON members without braces. */
void cot_problem_write(const struct cot_fault *f, const char *extra, struct cot_buf *out);
/* Fills the fault from a problem document; what cannot be read becomes COT_NETWORK. `extra_int` values by name: see
 * cot_problem_int. */
void cot_problem_read(const char *json, size_t len, struct cot_fault *out);
bool cot_problem_int(const char *json, size_t len, const char *member, int64_t *out);
bool cot_problem_text(const char *json, size_t len, const char *member, char *out, size_t out_len);

#endif
