/* Questions about heads, secrets and houses. */
#include "conn.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/wire/chain.h"

static enum cot_err odd(struct cot_fault *fault, enum cot_question q)
{
    return cot_fail(fault, COT_STORE, "%s: a value has an unexpected form", cot_questions[q].name);
}

static void bind_house(struct cot_bind *b, const struct cot_tx *tx)
{
    cot_bind_bytes(b, tx->house.b, sizeof tx->house.b);
}

static enum cot_err no_house(struct cot_fault *fault)
{
    return cot_fail(fault, COT_NOT_FOUND, "there is no such house here");
}

static enum cot_err read_heads(const PGresult *r, enum cot_question q, struct cot_heads *out, struct cot_fault *fault)
{
    if (PQntuples(r) != 1) return no_house(fault);
    out->epoch = cot_cell_int(r, 0, 0);
    out->position = cot_cell_int(r, 0, 1);
    out->receipt = cot_cell_int(r, 0, 2);
    return cot_cell_id(r, 0, 3, &out->chain) ? COT_OK : odd(fault, q);
}

enum cot_err cot_ask_head(struct cot_tx *tx, struct cot_heads *out, struct cot_fault *fault)
{
    memset(out, 0, sizeof *out);
    PGresult *r = NULL;
    struct cot_bind b = {0};
    bind_house(&b, tx);
    enum cot_err err = cot_tx_ask(tx, COT_Q_HEAD, &b, &r, fault);
    if (!err) err = read_heads(r, COT_Q_HEAD, out, fault);
    PQclear(r);
    return err;
}

enum cot_err cot_lock_head(struct cot_tx *tx, const char *tag, struct cot_heads *out, struct cot_fault *fault)
{
    memset(out, 0, sizeof *out);
    PGresult *r = NULL;
    struct cot_bind b = {0};
    cot_bind_text(&b, tag);
    enum cot_err err = cot_tx_ask(tx, COT_Q_LOCK, &b, &r, fault);
    if (!err) err = read_heads(r, COT_Q_LOCK, out, fault);
    if (!err) out->number = cot_cell_int(r, 0, 4);
    if (!err && out->number == 0) cot_chain_start(&tx->house, tag, &out->journal);
    else if (!err && !cot_cell_id(r, 0, 5, &out->journal)) err = odd(fault, COT_Q_LOCK);
    PQclear(r);
    return err;
}

enum cot_err cot_ask_secret(struct cot_tx *tx, uint8_t seed[static 32], struct cot_fault *fault)
{
    PGresult *r = NULL;
    struct cot_bind b = {0};
    struct cot_id id;
    bind_house(&b, tx);
    enum cot_err err = cot_tx_ask(tx, COT_Q_SECRET, &b, &r, fault);
    if (!err && PQntuples(r) != 1) err = no_house(fault);
    if (!err && !cot_cell_id(r, 0, 0, &id)) err = odd(fault, COT_Q_SECRET);
    if (!err) {
        memcpy(seed, id.b, sizeof id.b);
        explicit_bzero(PQgetvalue(r, 0, 0), 32);
        explicit_bzero(&id, sizeof id);
    }
    PQclear(r);
    return err;
}

enum cot_err cot_found_house(struct cot_tx *tx, const uint8_t seed[static 32], struct cot_fault *fault)
{
    struct cot_bind b = {0};
    cot_bind_bytes(&b, seed, 32);
    return cot_tx_ask(tx, COT_Q_FOUND, &b, NULL, fault);
}

enum cot_err cot_next_epoch(struct cot_tx *tx, int64_t *epoch, struct cot_fault *fault)
{
    PGresult *r = NULL;
    enum cot_err err = cot_tx_ask(tx, COT_Q_EPOCH, NULL, &r, fault);
    if (!err && (PQntuples(r) != 1 || PQgetisnull(r, 0, 0))) err = no_house(fault);
    if (!err) *epoch = cot_cell_int(r, 0, 0);
    PQclear(r);
    return err;
}

enum cot_err cot_ask_device_heads(struct cot_tx *tx, struct cot_device_head **out, size_t *n, struct cot_fault *fault)
{
    *out = NULL;
    *n = 0;
    PGresult *r = NULL;
    struct cot_bind b = {0};
    bind_house(&b, tx);
    enum cot_err err = cot_tx_ask(tx, COT_Q_DEVICE_HEADS, &b, &r, fault);
    if (err) return err;
    int rows = PQntuples(r);
    if (!(*out = calloc((size_t)rows + 1, sizeof **out))) err = cot_fail(fault, COT_MEMORY, "out of memory");
    for (int i = 0; !err && i < rows; i++) {
        struct cot_device_head *h = &(*out)[i];
        h->number = cot_cell_int(r, i, 1);
        if (!cot_cell_tag(r, i, 0, h->tag) || !cot_cell_id(r, i, 2, &h->chain)) err = odd(fault, COT_Q_DEVICE_HEADS);
    }
    if (!err) *n = (size_t)rows;
    PQclear(r);
    return err;
}

enum cot_err cot_ask_invitation(struct cot_tx *tx, const struct cot_id *hash, struct cot_invited *out,
                                struct cot_fault *fault)
{
    PGresult *r = NULL;
    struct cot_bind b = {0};
    bind_house(&b, tx);
    cot_bind_bytes(&b, hash->b, sizeof hash->b);
    enum cot_err err = cot_tx_ask(tx, COT_Q_INVITATION, &b, &r, fault);
    if (!err && PQntuples(r) == 0) err = cot_fail(fault, COT_NOT_FOUND, "no such invitation");
    else if (!err && !cot_cell_id(r, 0, 0, &out->member)) err = odd(fault, COT_Q_INVITATION);
    if (!err) out->expires = cot_cell_int(r, 0, 1);
    PQclear(r);
    return err;
}

enum cot_err cot_add_invitation(struct cot_tx *tx, const struct cot_id *hash, const struct cot_invited *in,
                                struct cot_fault *fault)
{
    struct cot_bind b = {0};
    bind_house(&b, tx);
    cot_bind_bytes(&b, hash->b, sizeof hash->b);
    cot_bind_bytes(&b, in->member.b, sizeof in->member.b);
    cot_bind_int(&b, in->expires);
    return cot_tx_ask(tx, COT_Q_ADD_INVITATION, &b, NULL, fault);
}

enum cot_err cot_ask_joined(struct cot_tx *tx, const struct cot_id *hash, const struct cot_id *key,
                            struct cot_joined *out, struct cot_fault *fault)
{
    PGresult *r = NULL;
    struct cot_bind b = {0};
    bind_house(&b, tx);
    cot_bind_bytes(&b, hash->b, sizeof hash->b);
    cot_bind_bytes(&b, key->b, sizeof key->b);
    enum cot_err err = cot_tx_ask(tx, COT_Q_JOINED, &b, &r, fault);
    if (!err && PQntuples(r) == 0) err = cot_fail(fault, COT_NOT_FOUND, "nobody has joined by this invitation");
    else if (!err && (!cot_cell_id(r, 0, 0, &out->key) || !cot_cell_tag(r, 0, 1, out->tag)))
        err = odd(fault, COT_Q_JOINED);
    if (!err) out->position = cot_cell_int(r, 0, 2);
    PQclear(r);
    return err;
}

enum cot_err cot_ask_joined_all(struct cot_tx *tx, struct cot_joined **out, size_t *n, struct cot_fault *fault)
{
    *out = NULL;
    *n = 0;
    PGresult *r = NULL;
    struct cot_bind b = {0};
    bind_house(&b, tx);
    enum cot_err err = cot_tx_ask(tx, COT_Q_JOINED_ALL, &b, &r, fault);
    if (err) return err;
    int rows = PQntuples(r);
    if (!(*out = calloc((size_t)rows + 1, sizeof **out))) err = cot_fail(fault, COT_MEMORY, "out of memory");
    for (int i = 0; !err && i < rows; i++) {
        struct cot_joined *j = &(*out)[i];
        j->position = cot_cell_int(r, i, 2);
        if (!cot_cell_id(r, i, 0, &j->key) || !cot_cell_tag(r, i, 1, j->tag)) err = odd(fault, COT_Q_JOINED_ALL);
    }
    if (!err) *n = (size_t)rows;
    PQclear(r);
    return err;
}

enum cot_err cot_add_joined(struct cot_tx *tx, const struct cot_id *hash, const struct cot_joined *in,
                            struct cot_fault *fault)
{
    struct cot_bind b = {0};
    bind_house(&b, tx);
    cot_bind_bytes(&b, hash->b, sizeof hash->b);
    cot_bind_bytes(&b, in->key.b, sizeof in->key.b);
    cot_bind_text(&b, in->tag);
    cot_bind_int(&b, in->position);
    return cot_tx_ask(tx, COT_Q_ADD_JOINED, &b, NULL, fault);
}

enum cot_err cot_ask_houses(struct cot_tx *tx, struct cot_house_id **out, size_t *n, struct cot_fault *fault)
{
    *out = NULL;
    *n = 0;
    PGresult *r = NULL;
    enum cot_err err = cot_tx_ask(tx, COT_Q_HOUSES, NULL, &r, fault);
    if (err) return err;
    int rows = PQntuples(r);
    if (!(*out = calloc((size_t)rows + 1, sizeof **out))) err = cot_fail(fault, COT_MEMORY, "out of memory");
    for (int i = 0; !err && i < rows; i++) {
        size_t len;
        const char *p = cot_cell_bytes(r, i, 0, &len);
        if (!p || len != sizeof(*out)->b) err = odd(fault, COT_Q_HOUSES);
        else memcpy((*out)[i].b, p, len);
    }
    if (!err) *n = (size_t)rows;
    PQclear(r);
    return err;
}
