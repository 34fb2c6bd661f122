/* What is signed: compact JWS (RFC 7515) with EdDSA (RFC 8037). The protected header is a fixed string compared whole:
 * no algorithm negotiation. Three types, so that none passes for another:
 *
 *   {"alg":"EdDSA","typ":"cotyledger-seal+v1"}        a page of a journal, by the device's key
 *   {"alg":"EdDSA","typ":"cotyledger-head+v1"}        the ledger's head, by the house's key
 *   {"alg":"EdDSA","typ":"cotyledger-statement+v1"}   a report for a farm, by the house's key
 *   {"alg":"EdDSA","typ":"cotyledger-join+v1"}        a new device's proof over house, invitation and key, by that key
 *
 * Seal payload:  {"house":H,"device":"B","first":1,"last":7,"before":h(first-1),"after":h(last)}
 * Head payload:  {"house":H,"epoch":1,"position":345,"ledger":L}
 * Join payload:  {"house":H,"invitation":SHA-256("cotyledger invitation v1" || secret),"key":K}
 * written exactly so, without blanks; readers accept only that form.
 */
#ifndef COTYLEDGER_WIRE_SEAL_H
#define COTYLEDGER_WIRE_SEAL_H

#include "cotyledger/wire/chain.h"

struct cot_keypair {
    struct cot_id pub;
    uint8_t secret[64];
}; /* libsodium's form; wipe when done */
void cot_keypair_from_seed(const uint8_t seed[static 32], struct cot_keypair *k);
void cot_keypair_new(struct cot_keypair *k); /* from the system's randomness */

enum cot_jws { COT_JWS_SEAL, COT_JWS_HEAD, COT_JWS_STATEMENT, COT_JWS_JOIN };
void cot_jws_sign(enum cot_jws type, const void *payload, size_t len, const struct cot_keypair *k, struct cot_buf *out);
/* Verifies and appends the payload to `payload`. UNAUTHENTIC or MALFORMED. */
COT_MUSTCHECK enum cot_err cot_jws_open(enum cot_jws type, const char *jws, size_t len, const struct cot_id *pub,
                                        struct cot_buf *payload, struct cot_fault *fault);
/* The payload without verification, to find out whose key is needed. */
COT_MUSTCHECK enum cot_err cot_jws_peek(enum cot_jws type, const char *jws, size_t len, struct cot_buf *payload,
                                        struct cot_fault *fault);

struct cot_seal {
    struct cot_house_id house;
    char tag[COT_TAG_MAX + 1];
    int64_t first, last;
    struct cot_id before, after;
};
void cot_seal_sign(const struct cot_seal *s, const struct cot_keypair *k, struct cot_buf *jws);
COT_MUSTCHECK enum cot_err cot_seal_open(const char *jws, size_t len, const struct cot_id *pub, struct cot_seal *out,
                                         struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_seal_peek(const char *jws, size_t len, struct cot_seal *out, struct cot_fault *fault);

struct cot_head {
    struct cot_house_id house;
    int64_t epoch, position;
    struct cot_id ledger;
};
void cot_head_sign(const struct cot_head *h, const struct cot_keypair *house_key, struct cot_buf *jws);
COT_MUSTCHECK enum cot_err cot_head_open(const char *jws, size_t len, const struct cot_id *house_pub,
                                         struct cot_head *out, struct cot_fault *fault);

/* Page: NDJSON, the seal's JWS on the first line as {"seal":"..."}, then the entries' lines, each ended by LF. */
#define COT_PAGE_ENTRIES_MAX 1000
#define COT_PAGE_BYTES_MAX (4u << 20)
struct cot_decoder; /* entry.h */
struct cot_page_entry {
    const char *line;
    size_t len;
    struct cot_id digest;
};
struct cot_page {
    const char *jws;
    size_t jws_len;
    struct cot_seal seal;
    struct cot_page_entry *entry; /* seal.last - seal.first + 1 of them, pointing into the page's bytes */
    size_t count;
};
/* Splits a page and checks everything but permission: the seal under `pub`, the count, each entry's grammar and that it
 * is of the seal's house, device and number, the chain from `before` to `after`. With `pub` NULL the seal's signature
 * is left to the caller. cot_page_free frees `entry`. */
COT_MUSTCHECK enum cot_err cot_page_read(const char *bytes, size_t len, const struct cot_id *pub, struct cot_decoder *d,
                                         struct cot_page *out, struct cot_fault *fault);
/* The same, and each entry's fact is shown once to `each` while it is there (it lives only through that call). */
typedef void cot_page_each(void *ctx, size_t i, const struct cot_fact *fact, const struct cot_id *digest);
COT_MUSTCHECK enum cot_err cot_page_read_each(const char *bytes, size_t len, const struct cot_id *pub,
                                              struct cot_decoder *d, struct cot_page *out, cot_page_each *each,
                                              void *ctx, struct cot_fault *fault);
void cot_page_free(struct cot_page *p);
void cot_page_start(struct cot_buf *out, const char *jws, size_t jws_len); /* then put line + "\n" for each entry */

/* Feed: what the server sends to one who fetches. Lines, each ended by LF:
 *   row POSITION RECEIPT TAG N       followed by the entry's line
 *   hole POSITION RECEIPT TAG N D    a row the reader may not see: its digest (base64url)
 *   seal JWS                         after the last row that it covers
 *   head JWS                         last line
 * Whole pages only, so every row is covered by a seal that follows it. */
enum cot_feed_line { COT_FEED_ROW, COT_FEED_HOLE, COT_FEED_SEAL, COT_FEED_HEAD };
struct cot_feed_item {
    enum cot_feed_line what;
    int64_t position, receipt, number;
    char tag[COT_TAG_MAX + 1];
    struct cot_id digest; /* computed for a row, read for a hole */
    const char *text;
    size_t len; /* entry's line, or the JWS */
};
/* Reads the next item at *at of `bytes`; COT_MALFORMED, or COT_NOT_FOUND when the bytes end before the item does (fetch
 * on), then *at is left where it was. */
COT_MUSTCHECK enum cot_err cot_feed_next(const char *bytes, size_t len, size_t *at, struct cot_feed_item *out,
                                         struct cot_fault *fault);
void cot_feed_row(struct cot_buf *out, int64_t position, int64_t receipt, const char *tag, int64_t n, const char *line,
                  size_t len);
void cot_feed_hole(struct cot_buf *out, int64_t position, int64_t receipt, const char *tag, int64_t n,
                   const struct cot_id *d);
void cot_feed_seal(struct cot_buf *out, const char *jws, size_t len);
void cot_feed_head(struct cot_buf *out, const char *jws, size_t len);

#endif
