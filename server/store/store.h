/* The store: PostgreSQL behind named questions and typed rows. Nobody outside this room knows libpq.
 *
 * A transaction is of one house and of one reach (the whole house, or what one farm may see), said to the database in
 * each transaction, so that row-level security repeats what the program checks. No session state outlives a
 * transaction. Deadlines are milliseconds of the monotonic clock (cot_ticks_ms). A fault's COT_BUSY means: not reached,
 * try again.
 */
#ifndef COTYLEDGER_STORE_STORE_H
#define COTYLEDGER_STORE_STORE_H

#include "cotyledger/wire/seal.h"

struct cot_store;
struct cot_store_options {
    const char *conninfo; /* libpq's, without user */
    const char *user;     /* role; NULL: the conninfo's */
    int connections;
    bool prepared; /* off behind a pooler that cannot keep prepared statements */
};
/* Opens nothing yet: connections are made when wanted. The caller closes. */
COT_MUSTCHECK enum cot_err cot_store_open(const struct cot_store_options *o, struct cot_store **out,
                                          struct cot_fault *fault);
void cot_store_close(struct cot_store *s);

int64_t cot_ticks_ms(void); /* monotonic */

/* Whether a server answers there and takes connections. */
bool cot_store_answers(const char *conninfo);
/* Applies the schema steps that are missing (as the owner's role). COT_NEWER when the database is ahead of this
 * program. */
COT_MUSTCHECK enum cot_err cot_store_migrate(const char *conninfo, const char *user, struct cot_fault *fault);
/* Database reached, schema just as new as this program, and settings that keep what is committed. */
COT_MUSTCHECK enum cot_err cot_store_ready(struct cot_store *s, int64_t deadline, struct cot_fault *fault);

/* --- Transactions ---------------------------------------------------------------------------------------------------
 */
struct cot_tx;
/* `house` NULL: of no house (only cot_ask_houses). `farm` NULL: the whole house. */
COT_MUSTCHECK enum cot_err cot_tx_begin(struct cot_store *s, const struct cot_house_id *house,
                                        const struct cot_id *farm, int64_t deadline, struct cot_tx **out,
                                        struct cot_fault *fault);
/* The same to read only, and all questions see the database as it is at the first. */
COT_MUSTCHECK enum cot_err cot_tx_begin_still(struct cot_store *s, const struct cot_house_id *house, int64_t deadline,
                                              struct cot_tx **out, struct cot_fault *fault);
/* From the next question on the transaction sees what this farm may see. There is no way back within it. */
void cot_tx_narrow(struct cot_tx *tx, const struct cot_id *farm);
/* Ends the transaction and gives its connection back. An acknowledged commit is durable; after an error it may or may
 * not have happened. */
COT_MUSTCHECK enum cot_err cot_tx_commit(struct cot_tx *tx, struct cot_fault *fault);
void cot_tx_end(struct cot_tx *tx); /* rolls back; NULL is fine */
int64_t cot_tx_deadline(const struct cot_tx *tx);

/* --- Heads
 * ------------------------------------------------------------------------------------------------------------ */
struct cot_heads {
    int64_t epoch, position, receipt;
    struct cot_id chain;
    int64_t number; /* of the device asked for; 0: nothing of it yet, then `journal` is h(0) */
    struct cot_id journal;
};
/* NOT_FOUND: no such house. */
COT_MUSTCHECK enum cot_err cot_ask_head(struct cot_tx *tx, struct cot_heads *out, struct cot_fault *fault);
/* The same with a device's head, and nobody else moves the house until this transaction ends. */
COT_MUSTCHECK enum cot_err cot_lock_head(struct cot_tx *tx, const char *tag, struct cot_heads *out,
                                         struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_ask_secret(struct cot_tx *tx, uint8_t seed[static 32], struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_found_house(struct cot_tx *tx, const uint8_t seed[static 32], struct cot_fault *fault);
/* Owner's role only. */
COT_MUSTCHECK enum cot_err cot_next_epoch(struct cot_tx *tx, int64_t *epoch, struct cot_fault *fault);

/* --- Rows
 * --------------------------------------------------------------------------------------------------------------- */
struct cot_new_row {
    struct cot_id digest, chain; /* chain: L(p) */
    enum cot_scope scope;
    struct cot_id farm; /* of COT_SCOPE_FARM */
    const char *body;
    size_t len;
};
struct cot_new_page {
    char tag[COT_TAG_MAX + 1];
    int64_t position, number; /* of the first row */
    int64_t receipt;
    const struct cot_new_row *row;
    size_t count;
    const char *seal;
    size_t seal_len;
    struct cot_id journal; /* h(last) */
};
/* Adds the rows and the seal and moves both heads; under cot_lock_head. With `commit` the transaction is committed in
 * the same round trip (and the connection still held: cot_tx_end follows in any case). */
COT_MUSTCHECK enum cot_err cot_add_page(struct cot_tx *tx, const struct cot_new_page *p, bool commit,
                                        struct cot_fault *fault);

struct cot_stored_row {
    int64_t position, receipt, number;
    char tag[COT_TAG_MAX + 1];
    struct cot_id digest, chain;
    bool hole; /* not within reach: no body, no scope */
    uint8_t scope[32];
    size_t scope_len;
    const char *body;
    size_t len;
    const char *seal;
    size_t seal_len; /* of the page that ends here; NULL elsewhere */
    int64_t seal_first;
};
/* Rows as they were read; they live until cot_rows_free. */
struct cot_rows {
    struct cot_stored_row *row;
    size_t count;
    void *inside;
};
void cot_rows_free(struct cot_rows *r);
/* Rows within reach at after < position <= upto, in order, at most `limit`; without seals. */
COT_MUSTCHECK enum cot_err cot_ask_rows(struct cot_tx *tx, int64_t after, int64_t upto, int64_t limit,
                                        struct cot_rows *out, struct cot_fault *fault);
/* All rows after `after`, whole pages, at least `least` of them (if there are) and none past `upto`; with seals, and
 * with holes for rows that are not within reach. */
COT_MUSTCHECK enum cot_err cot_ask_feed(struct cot_tx *tx, int64_t after, int64_t upto, int64_t least,
                                        struct cot_rows *out, struct cot_fault *fault);
/* A device's rows first..last in order of number, without bodies. */
COT_MUSTCHECK enum cot_err cot_ask_numbers(struct cot_tx *tx, const char *tag, int64_t first, int64_t last,
                                           struct cot_rows *out, struct cot_fault *fault);
/* L(p) and receipt of one position. NOT_FOUND. */
COT_MUSTCHECK enum cot_err cot_ask_chain(struct cot_tx *tx, int64_t position, struct cot_id *chain,
                                         struct cot_fault *fault);

/* --- Devices' heads, invitations, houses
 * -------------------------------------------------------------------------------- */
struct cot_device_head {
    char tag[COT_TAG_MAX + 1];
    int64_t number;
    struct cot_id chain;
};
/* In order of tag; the caller frees *out. */
COT_MUSTCHECK enum cot_err cot_ask_device_heads(struct cot_tx *tx, struct cot_device_head **out, size_t *n,
                                                struct cot_fault *fault);

struct cot_invited {
    struct cot_id member;
    int64_t expires;
};
COT_MUSTCHECK enum cot_err cot_ask_invitation(struct cot_tx *tx, const struct cot_id *hash, struct cot_invited *out,
                                              struct cot_fault *fault); /* NOT_FOUND */
/* Keeps the invitation; one that is there already is left as it is. */
COT_MUSTCHECK enum cot_err cot_add_invitation(struct cot_tx *tx, const struct cot_id *hash,
                                              const struct cot_invited *in, struct cot_fault *fault);
struct cot_joined {
    struct cot_id key;
    char tag[COT_TAG_MAX + 1];
    int64_t position;
};
/* Who joined by this invitation: the join with this key if there is one, else any. NOT_FOUND: nobody. */
COT_MUSTCHECK enum cot_err cot_ask_joined(struct cot_tx *tx, const struct cot_id *hash, const struct cot_id *key,
                                          struct cot_joined *out, struct cot_fault *fault);
/* Every join, in order of tag; the caller frees *out. */
COT_MUSTCHECK enum cot_err cot_ask_joined_all(struct cot_tx *tx, struct cot_joined **out, size_t *n,
                                              struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_add_joined(struct cot_tx *tx, const struct cot_id *hash, const struct cot_joined *in,
                                          struct cot_fault *fault);
/* Owner's role only: every house, in order of id; the caller frees *out. */
COT_MUSTCHECK enum cot_err cot_ask_houses(struct cot_tx *tx, struct cot_house_id **out, size_t *n,
                                          struct cot_fault *fault);

#endif
