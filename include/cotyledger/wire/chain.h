/* Digests and chains. All SHA-256; integers are 8 bytes big-endian; tags are the ASCII bytes without NUL.
 *
 *   d      = SHA-256("cotyledger entry v1" || length(8) || bytes)
 *   h(0)   = SHA-256("cotyledger journal v1" || house(16) || length of tag(8) || tag)
 *   h(n)   = SHA-256("cotyledger chain v1" || h(n-1) || n || d(n))
 *   L(0)   = SHA-256("cotyledger ledger v1" || house(16))
 *   L(p)   = SHA-256("cotyledger position v1" || L(p-1) || p || receipt || length of tag(8) || tag || n || d)
 */
#ifndef COTYLEDGER_WIRE_CHAIN_H
#define COTYLEDGER_WIRE_CHAIN_H

#include "cotyledger/core/book.h"
#include "cotyledger/wire/bytes.h"

void cot_digest(const void *bytes, size_t len, struct cot_id *d);
void cot_chain_start(const struct cot_house_id *house, const char *tag, struct cot_id *h);
void cot_chain_next(struct cot_id *h, int64_t n, const struct cot_id *d); /* h(n-1) in, h(n) out */
void cot_ledger_start(const struct cot_house_id *house, struct cot_id *l);
void cot_ledger_next(struct cot_id *l, int64_t position, int64_t receipt, const char *tag, int64_t n,
                     const struct cot_id *d);

/* "1:HEX": rules version and SHA-256 of cot_book_canon. */
#define COT_BOOK_DIGEST_TEXT 80
COT_MUSTCHECK enum cot_err cot_book_digest(struct cot_book *b, char out[static COT_BOOK_DIGEST_TEXT]);

#endif
