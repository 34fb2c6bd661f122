/* The book's digest: SHA-256 over the canonical bytes that the book streams. */
#include "cotyledger/wire/chain.h"

#include <sodium.h>
#include <stdio.h>

static void sink(void *ctx, const void *bytes, size_t len)
{
    crypto_hash_sha256_update(ctx, bytes, len);
}

enum cot_err cot_book_digest(struct cot_book *b, char out[static COT_BOOK_DIGEST_TEXT])
{
    crypto_hash_sha256_state h;
    uint8_t sum[crypto_hash_sha256_BYTES];
    crypto_hash_sha256_init(&h);
    enum cot_err err = cot_book_canon(b, sink, &h);
    crypto_hash_sha256_final(&h, sum);
    if (err) return err;
    int n = snprintf(out, COT_BOOK_DIGEST_TEXT, "%d:", COT_RULES_VERSION);
    sodium_bin2hex(out + n, COT_BOOK_DIGEST_TEXT - (size_t)n, sum, sizeof sum);
    return COT_OK;
}
