/* Digests and chains: SHA-256 over a tag and the parts, integers as 8 bytes big-endian. */
#include "cotyledger/wire/chain.h"

#include <sodium.h>
#include <string.h>

typedef crypto_hash_sha256_state hash;

static void begin(hash *h, const char *tag)
{
    crypto_hash_sha256_init(h);
    crypto_hash_sha256_update(h, (const unsigned char *)tag, strlen(tag));
}

static void add(hash *h, const void *bytes, size_t len)
{
    crypto_hash_sha256_update(h, bytes, len);
}

static void add_int(hash *h, int64_t n)
{
    uint8_t be[8];
    for (int i = 0; i < 8; i++) be[i] = (uint8_t)((uint64_t)n >> (56 - 8 * i));
    add(h, be, sizeof be);
}

static void add_tag(hash *h, const char *tag)
{
    add_int(h, (int64_t)strlen(tag));
    add(h, tag, strlen(tag));
}

void cot_digest(const void *bytes, size_t len, struct cot_id *d)
{
    hash h;
    begin(&h, "cotyledger entry v1");
    add_int(&h, (int64_t)len);
    add(&h, bytes, len);
    crypto_hash_sha256_final(&h, d->b);
}

void cot_chain_start(const struct cot_house_id *house, const char *tag, struct cot_id *out)
{
    hash h;
    begin(&h, "cotyledger journal v1");
    add(&h, house->b, sizeof house->b);
    add_tag(&h, tag);
    crypto_hash_sha256_final(&h, out->b);
}

void cot_chain_next(struct cot_id *chain, int64_t n, const struct cot_id *d)
{
    hash h;
    begin(&h, "cotyledger chain v1");
    add(&h, chain->b, sizeof chain->b);
    add_int(&h, n);
    add(&h, d->b, sizeof d->b);
    crypto_hash_sha256_final(&h, chain->b);
}

void cot_ledger_start(const struct cot_house_id *house, struct cot_id *l)
{
    hash h;
    begin(&h, "cotyledger ledger v1");
    add(&h, house->b, sizeof house->b);
    crypto_hash_sha256_final(&h, l->b);
}

void cot_ledger_next(struct cot_id *l, int64_t position, int64_t receipt, const char *tag, int64_t n,
                     const struct cot_id *d)
{
    hash h;
    begin(&h, "cotyledger position v1");
    add(&h, l->b, sizeof l->b);
    add_int(&h, position);
    add_int(&h, receipt);
    add_tag(&h, tag);
    add_int(&h, n);
    add(&h, d->b, sizeof d->b);
    crypto_hash_sha256_final(&h, l->b);
}
