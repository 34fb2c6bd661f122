/* The pool: connections made when wanted, made again with growing pauses when the database is away; and transactions.
 */
#include "conn.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define BACKOFF_FIRST 100
#define BACKOFF_MOST 5000

struct slot {
    struct cot_conn conn;
    bool taken;
};

struct cot_store {
    char *conninfo, *user;
    bool prepared;
    pthread_mutex_t lock; /* guards what follows */
    pthread_cond_t freed;
    struct slot *slot;
    int slots;
    int64_t retry_at; /* no attempt to connect before this */
    int64_t backoff;
    struct cot_fault last; /* why the last attempt failed */
};

enum cot_err cot_store_open(const struct cot_store_options *o, struct cot_store **out, struct cot_fault *fault)
{
    struct cot_store *s = calloc(1, sizeof *s);
    *out = s;
    if (!s) return cot_fail(fault, COT_MEMORY, "out of memory");
    pthread_condattr_t attr;
    pthread_condattr_init(&attr);
    pthread_condattr_setclock(&attr, CLOCK_MONOTONIC);
    pthread_mutex_init(&s->lock, NULL);
    pthread_cond_init(&s->freed, &attr);
    pthread_condattr_destroy(&attr);
    s->prepared = o->prepared;
    s->slots = o->connections;
    s->conninfo = strdup(o->conninfo);
    s->user = o->user ? strdup(o->user) : NULL;
    s->slot = calloc((size_t)o->connections, sizeof *s->slot);
    if (s->conninfo && s->slot && (s->user || !o->user)) return COT_OK;
    cot_store_close(s);
    *out = NULL;
    return cot_fail(fault, COT_MEMORY, "out of memory");
}

void cot_store_close(struct cot_store *s)
{
    if (!s) return;
    for (int i = 0; s->slot && i < s->slots; i++) cot_conn_close(&s->slot[i].conn);
    pthread_cond_destroy(&s->freed);
    pthread_mutex_destroy(&s->lock);
    free(s->slot);
    free(s->conninfo);
    free(s->user);
    free(s);
}

/* A free slot, one with a living connection first; NULL if all are taken. Under the lock. */
static struct slot *free_slot(struct cot_store *s)
{
    struct slot *cold = NULL;
    for (int i = 0; i < s->slots; i++) {
        if (s->slot[i].taken) continue;
        if (s->slot[i].conn.pg) return &s->slot[i];
        if (!cold) cold = &s->slot[i];
    }
    return cold;
}

static enum cot_err wait_slot(struct cot_store *s, int64_t deadline, struct slot **out, struct cot_fault *fault)
{
    struct timespec until = {deadline / 1000, (long)(deadline % 1000) * 1000000};
    pthread_mutex_lock(&s->lock);
    while (!(*out = free_slot(s)) && cot_ticks_ms() < deadline) pthread_cond_timedwait(&s->freed, &s->lock, &until);
    if (*out) (*out)->taken = true;
    pthread_mutex_unlock(&s->lock);
    return *out ? COT_OK : cot_fail(fault, COT_BUSY, "all database connections are in use");
}

static void give_back(struct cot_store *s, struct cot_conn *c)
{
    struct slot *slot = (struct slot *)c; /* the connection is the slot's first member */
    if (c->broken || c->pending) cot_conn_close(c);
    pthread_mutex_lock(&s->lock);
    slot->taken = false;
    pthread_cond_signal(&s->freed);
    pthread_mutex_unlock(&s->lock);
}

/* Pauses grow while attempts fail, and everybody who comes meanwhile is told why at once. */
static enum cot_err connect_slot(struct cot_store *s, struct slot *slot, int64_t deadline, struct cot_fault *fault)
{
    pthread_mutex_lock(&s->lock);
    bool waiting = cot_ticks_ms() < s->retry_at;
    if (waiting && fault) *fault = s->last;
    pthread_mutex_unlock(&s->lock);
    if (waiting) return COT_BUSY;
    struct cot_fault why = {0};
    enum cot_err err = cot_conn_open(&slot->conn, s->conninfo, s->user, s->prepared, deadline, &why);
    pthread_mutex_lock(&s->lock);
    if (err) {
        s->backoff = s->backoff ? s->backoff * 2 : BACKOFF_FIRST;
        if (s->backoff > BACKOFF_MOST) s->backoff = BACKOFF_MOST;
        s->retry_at = cot_ticks_ms() + s->backoff;
        s->last = why;
    } else {
        s->backoff = 0;
        s->retry_at = 0;
    }
    pthread_mutex_unlock(&s->lock);
    if (err && fault) *fault = why;
    return err;
}

static enum cot_err take_conn(struct cot_store *s, int64_t deadline, struct cot_conn **out, struct cot_fault *fault)
{
    struct slot *slot;
    enum cot_err err = wait_slot(s, deadline, &slot, fault);
    if (err) return err;
    if (!cot_conn_alive(&slot->conn)) {
        cot_conn_close(&slot->conn);
        err = connect_slot(s, slot, deadline, fault);
    }
    if (err) give_back(s, &slot->conn);
    else *out = &slot->conn;
    return err;
}

static void hex_text(const void *bytes, size_t len, char *out)
{
    static const char digits[] = "0123456789abcdef";
    const uint8_t *p = bytes;
    for (size_t i = 0; i < len; i++) {
        *out++ = digits[p[i] >> 4];
        *out++ = digits[p[i] & 15];
    }
    *out = '\0';
}

/* Begin and whose transaction it is travel with the first question. */
static enum cot_err put_begin(struct cot_tx *tx, enum cot_question how, const struct cot_id *farm,
                              struct cot_fault *fault)
{
    char house[33] = "", reach[65] = "*", timeout[24];
    if (tx->of_house) hex_text(tx->house.b, sizeof tx->house.b, house);
    if (farm) hex_text(farm->b, sizeof farm->b, reach);
    int64_t left = tx->deadline - cot_ticks_ms();
    snprintf(timeout, sizeof timeout, "%lldms", (long long)(left < 1 ? 1 : left > 3600000 ? 3600000 : left));
    struct cot_bind b = {0};
    cot_bind_text(&b, house);
    cot_bind_text(&b, reach);
    cot_bind_text(&b, timeout);
    enum cot_err err = cot_conn_put(tx->conn, how, NULL, fault);
    return err ? err : cot_conn_put(tx->conn, COT_Q_REACH, &b, fault);
}

static enum cot_err begin(struct cot_store *s, enum cot_question how, const struct cot_house_id *house,
                          const struct cot_id *farm, int64_t deadline, struct cot_tx **out, struct cot_fault *fault)
{
    *out = NULL;
    struct cot_tx *tx = calloc(1, sizeof *tx);
    if (!tx) return cot_fail(fault, COT_MEMORY, "out of memory");
    tx->store = s;
    tx->deadline = deadline;
    tx->of_house = house != NULL;
    tx->whole = farm == NULL;
    if (house) tx->house = *house;
    enum cot_err err = take_conn(s, deadline, &tx->conn, fault);
    if (!err) err = put_begin(tx, how, farm, fault);
    tx->open = !err;
    if (!err) *out = tx;
    else cot_tx_end(tx);
    return err;
}

enum cot_err cot_tx_begin(struct cot_store *s, const struct cot_house_id *house, const struct cot_id *farm,
                          int64_t deadline, struct cot_tx **out, struct cot_fault *fault)
{
    return begin(s, COT_Q_BEGIN, house, farm, deadline, out, fault);
}

enum cot_err cot_tx_begin_still(struct cot_store *s, const struct cot_house_id *house, int64_t deadline,
                                struct cot_tx **out, struct cot_fault *fault)
{
    return begin(s, COT_Q_BEGIN_STILL, house, NULL, deadline, out, fault);
}

void cot_tx_narrow(struct cot_tx *tx, const struct cot_id *farm)
{
    char reach[65];
    hex_text(farm->b, sizeof farm->b, reach);
    struct cot_bind b = {0};
    cot_bind_text(&b, reach);
    if (cot_conn_put(tx->conn, COT_Q_NARROW, &b, NULL) != COT_OK) tx->failed = true;
    tx->whole = false;
}

int64_t cot_tx_deadline(const struct cot_tx *tx)
{
    return tx->deadline;
}

enum cot_err cot_tx_ask(struct cot_tx *tx, enum cot_question q, const struct cot_bind *bind, PGresult **out,
                        struct cot_fault *fault)
{
    if (!tx->open || tx->failed) return cot_fail(fault, COT_INTERNAL, "asked in a transaction that is over");
    enum cot_err err = cot_conn_put(tx->conn, q, bind, fault);
    if (!err) err = cot_conn_flush(tx->conn, tx->deadline, out, fault);
    if (err) tx->failed = true;
    return err;
}

enum cot_err cot_tx_commit(struct cot_tx *tx, struct cot_fault *fault)
{
    enum cot_err err = cot_tx_ask(tx, COT_Q_COMMIT, NULL, NULL, fault);
    if (!err) tx->open = false;
    cot_tx_end(tx);
    return err;
}

void cot_tx_end(struct cot_tx *tx)
{
    if (!tx) return;
    if (tx->conn && tx->open && !tx->conn->broken) {
        if (cot_conn_put(tx->conn, COT_Q_ROLLBACK, NULL, NULL) != COT_OK ||
            cot_conn_flush(tx->conn, cot_ticks_ms() + 2000, NULL, NULL) != COT_OK)
            tx->conn->broken = true;
    }
    if (tx->conn) give_back(tx->store, tx->conn);
    free(tx);
}

bool cot_store_answers(const char *conninfo)
{
    const char *keys[] = {"dbname", "user", "connect_timeout", NULL},
               *values[] = {conninfo, "cotyledger_run", "5", NULL};
    return PQpingParams(keys, values, 1) == PQPING_OK;
}
