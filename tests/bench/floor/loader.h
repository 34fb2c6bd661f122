/* Bare: a libpq program that writes rows made beforehand durably, under the same locks and with the same keys as the
 * ledger's, and does nothing else: no HTTP, no signature, no parse, no chain, no row-level security. */
#ifndef COTYLEDGER_FLOOR_LOADER_H
#define COTYLEDGER_FLOOR_LOADER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct floor_page { /* rows of one transaction; the arrays are in PostgreSQL's binary form */
    char *scope, *digest, *chain, *body;
    int scope_len, digest_len, chain_len, body_len;
    int64_t rows;
};
struct floor_loader {
    const char *conninfo;
    uint8_t house[16];
    char tag[5];
    int64_t number; /* of the device, so far */
    struct floor_page *page;
    size_t pages;
    bool good;
};
/* Tables of its own, empty. False with words on standard error. */
bool floor_tables(const char *conninfo);
/* A house and a device that may write. */
bool floor_begin(const char *conninfo, const uint8_t house[static 16]);
/* One array of n values laid end to end; the caller frees. */
char *floor_array(const void *const *value, const size_t *len, size_t n, int *out_len);
/* Writes all pages on a connection of its own, a transaction each; sets `good`. May run in a thread. */
void floor_load(struct floor_loader *l);
/* One row a transaction, one round trip each: `n` times; seconds of each to `took`. */
bool floor_commits(const char *conninfo, const char *body, size_t len, size_t n, double *took);

#endif
