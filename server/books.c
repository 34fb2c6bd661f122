/* The cache of houses, and who is at which. */
#include "books.h"

#include <pthread.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "house.h"

#define BUCKETS 1024

struct cot_books {
    struct cot_store *store;
    size_t most;          /* bytes of books to keep */
    pthread_mutex_t lock; /* guards what follows, and each house's busy, users, used, bytes, keys */
    pthread_cond_t freed; /* some house is not busy any more */
    struct cot_house *bucket[BUCKETS];
    size_t bytes;
    uint64_t uses;
};

struct cot_books *cot_books_new(struct cot_store *store, size_t bytes)
{
    struct cot_books *b = calloc(1, sizeof *b);
    if (!b) return NULL;
    pthread_condattr_t attr;
    pthread_condattr_init(&attr);
    pthread_condattr_setclock(&attr, CLOCK_MONOTONIC);
    pthread_mutex_init(&b->lock, NULL);
    pthread_cond_init(&b->freed, &attr);
    pthread_condattr_destroy(&attr);
    b->store = store;
    b->most = bytes;
    return b;
}

void cot_books_free(struct cot_books *b)
{
    if (!b) return;
    for (size_t i = 0; i < BUCKETS; i++)
        for (struct cot_house *h = b->bucket[i], *next; h; h = next) {
            next = h->next;
            cot_house_drop(h);
        }
    pthread_cond_destroy(&b->freed);
    pthread_mutex_destroy(&b->lock);
    free(b);
}

struct cot_store *cot_books_store(struct cot_books *b)
{
    return b->store;
}

static struct cot_house **bucket_of(struct cot_books *b, const struct cot_house_id *id)
{
    uint32_t h;
    memcpy(&h, id->b, sizeof h); /* ids are random */
    return &b->bucket[h % BUCKETS];
}

/* Under the lock. NULL when out of memory, or when it is not there and not to be made. */
static struct cot_house *find(struct cot_books *b, const struct cot_house_id *id, bool make)
{
    struct cot_house **at = bucket_of(b, id), *h = *at;
    while (h && memcmp(h->id.b, id->b, sizeof id->b) != 0) h = h->next;
    if (h || !make) return h;
    h = cot_house_make(id);
    if (!h) return NULL;
    h->next = *at;
    *at = h;
    return h;
}

static void forget(struct cot_books *b, struct cot_house *h)
{
    struct cot_house **at = bucket_of(b, &h->id);
    while (*at != h) at = &(*at)->next;
    *at = h->next;
    b->bytes -= h->bytes;
    cot_house_drop(h);
}

/* Lets go of the houses asked about longest ago until the rest fits, but not of the last one. Under the lock. */
static void shrink(struct cot_books *b, const struct cot_house *last)
{
    while (b->bytes > b->most) {
        struct cot_house *oldest = NULL;
        for (size_t i = 0; i < BUCKETS; i++)
            for (struct cot_house *h = b->bucket[i]; h; h = h->next)
                if (!h->users && h != last && (!oldest || h->used < oldest->used)) oldest = h;
        if (!oldest) return;
        forget(b, oldest);
    }
}

static enum cot_err enter(struct cot_books *b, const struct cot_house_id *id, int64_t deadline, struct cot_house **out,
                          struct cot_fault *fault)
{
    struct timespec until = {deadline / 1000, (long)(deadline % 1000) * 1000000};
    enum cot_err err = COT_OK;
    pthread_mutex_lock(&b->lock);
    struct cot_house *h = find(b, id, true);
    if (!h) err = cot_fail(fault, COT_MEMORY, "out of memory");
    else h->users++;
    while (!err && h->busy)
        if (pthread_cond_timedwait(&b->freed, &b->lock, &until) != 0 && h->busy && cot_ticks_ms() >= deadline)
            err = cot_fail(fault, COT_TIMEOUT, "this house is busy");
    if (!err) {
        h->busy = true;
        h->used = ++b->uses;
        *out = h;
    } else if (h) {
        h->users--;
    }
    pthread_mutex_unlock(&b->lock);
    return err;
}

static void leave(struct cot_books *b, struct cot_house *h)
{
    size_t bytes = cot_house_bytes(h);
    pthread_mutex_lock(&b->lock);
    b->bytes += bytes - h->bytes;
    h->bytes = bytes;
    h->busy = false;
    h->users--;
    if (!h->users && h->fold.position == 0) forget(b, h); /* nothing is known of it: perhaps there is no such house */
    else shrink(b, h);
    pthread_cond_broadcast(&b->freed);
    pthread_mutex_unlock(&b->lock);
}

/* What is remembered is of another ledger than the one in the database: a restore, or an older copy. */
static bool stale(const struct cot_house *h, const struct cot_heads *head)
{
    if (h->fold.position == 0) return false;
    if (h->epoch != head->epoch || h->fold.position > head->position) return true;
    return h->fold.position == head->position && cot_id_cmp(&h->fold.chain, &head->chain) != 0;
}

static enum cot_err reset(struct cot_books *b, struct cot_house *h, struct cot_fault *fault)
{
    pthread_mutex_lock(&b->lock);
    h->keys = 0;
    pthread_mutex_unlock(&b->lock);
    return cot_house_reset(h, fault);
}

static enum cot_err fold_to_head(struct cot_session *s, struct cot_fault *fault)
{
    struct cot_house *h = s->house;
    enum cot_err err = h->fold.book && !stale(h, &s->head) ? COT_OK : reset(s->books, h, fault);
    if (err) return err;
    err = cot_fold(&h->fold, s->tx, s->head.position, fault);
    if (err == COT_CONFLICT) {
        err = reset(s->books, h, fault);
        if (!err) err = cot_fold(&h->fold, s->tx, s->head.position, fault);
    }
    h->epoch = s->head.epoch;
    if (!err && cot_id_cmp(&h->fold.chain, &s->head.chain) != 0)
        err = cot_fail(fault, COT_STORE, "the ledger's head at position %lld does not fit its rows",
                       (long long)s->head.position);
    return err;
}

static enum cot_err open_session(struct cot_books *b, const struct cot_house_id *id, const uint8_t *seed,
                                 const char *tag, int64_t deadline, struct cot_session *out, struct cot_fault *fault)
{
    memset(out, 0, sizeof *out);
    out->books = b;
    out->id = *id;
    out->deadline = deadline;
    enum cot_err err = enter(b, id, deadline, &out->house, fault);
    if (!err) err = cot_tx_begin(b->store, id, NULL, deadline, &out->tx, fault);
    if (!err && seed) err = cot_found_house(out->tx, seed, fault);
    if (!err) err = tag ? cot_lock_head(out->tx, tag, &out->head, fault) : cot_ask_head(out->tx, &out->head, fault);
    if (!err) err = fold_to_head(out, fault);
    return err;
}

enum cot_err cot_session_open(struct cot_books *b, const struct cot_house_id *id, const char *tag, int64_t deadline,
                              struct cot_session *out, struct cot_fault *fault)
{
    return open_session(b, id, NULL, tag, deadline, out, fault);
}

enum cot_err cot_session_found(struct cot_books *b, const struct cot_house_id *id, const uint8_t seed[static 32],
                               const char *tag, int64_t deadline, struct cot_session *out, struct cot_fault *fault)
{
    return open_session(b, id, seed, tag, deadline, out, fault);
}

void cot_session_release(struct cot_session *s)
{
    if (s->house) leave(s->books, s->house);
    s->house = NULL;
}

void cot_session_close(struct cot_session *s)
{
    if (!s->books) return;
    cot_tx_end(s->tx);
    s->tx = NULL;
    cot_session_release(s);
}

static enum cot_err unknown_device(struct cot_fault *fault)
{
    cot_fail(fault, COT_UNAUTHENTIC, "this house or device is not known here");
    return cot_hint(fault, "was the server restored from a backup? else join again with a new invitation");
}

enum cot_err cot_session_asker(struct cot_session *s, const char *tag, const struct cot_id *key,
                               struct cot_fault *fault)
{
    cot_book_device(s->house->fold.book, tag, INT64_MAX, &s->who);
    if (!s->who.known || cot_id_cmp(&s->who.key, key) != 0) return unknown_device(fault);
    if (s->who.closed || s->who.member_gone) {
        cot_fail(fault, COT_CLOSED, "device %s has been closed", tag);
        return cot_hint(fault,
                        "ask a manager of the house; work not sent yet can be carried over: cotyl export-unsent");
    }
    snprintf(s->tag, sizeof s->tag, "%s", tag);
    return COT_OK;
}

bool cot_session_is_buyer(const struct cot_session *s)
{
    return s->who.part == COT_PART_BUYER;
}

struct cot_book *cot_session_book(struct cot_session *s)
{
    return s->house->fold.book;
}

enum cot_err cot_session_view(struct cot_session *s, const struct cot_id *farm, struct cot_book **out,
                              struct cot_fault *fault)
{
    struct cot_folding *view = NULL;
    enum cot_err err = cot_house_view(s->house, farm, &view, fault);
    if (err) return err;
    if (view->position < s->head.position) {
        cot_tx_narrow(s->tx, farm);
        err = cot_fold(view, s->tx, s->head.position, fault);
    }
    *out = view->book;
    return err;
}

enum cot_err cot_session_key(struct cot_session *s, const struct cot_keypair **out, struct cot_fault *fault)
{
    struct cot_house *h = s->house;
    enum cot_err err = COT_OK;
    if (!h->has_key) {
        uint8_t seed[32];
        err = cot_ask_secret(s->tx, seed, fault);
        if (!err) cot_keypair_from_seed(seed, &h->key);
        h->has_key = !err;
        sodium_memzero(seed, sizeof seed);
    }
    *out = &h->key;
    return err;
}

enum cot_err cot_session_head(struct cot_session *s, struct cot_buf *jws, struct cot_fault *fault)
{
    const struct cot_keypair *key;
    enum cot_err err = cot_session_key(s, &key, fault);
    if (err) return err;
    struct cot_head head = {s->id, s->head.epoch, s->head.position, s->head.chain};
    cot_head_sign(&head, key, jws);
    return jws->failed ? cot_fail(fault, COT_MEMORY, "out of memory") : COT_OK;
}

const char *cot_session_recall(struct cot_session *s, const char *question, size_t *len)
{
    return cot_house_recall(s->house, question, s->head.epoch, s->head.position, len);
}

void cot_session_remember(struct cot_session *s, const char *question, const char *answer, size_t len)
{
    cot_house_remember(s->house, question, s->head.epoch, s->head.position, answer, len);
}

/* L of each new row; the rows' bytes are the page's. */
static void chain_rows(struct cot_session *s, struct cot_new_page *page, struct cot_new_row *row,
                       const struct cot_kept *facts, const struct cot_page_entry *lines, size_t skip)
{
    struct cot_id chain = s->head.chain;
    for (size_t i = 0; i < page->count; i++) {
        const struct cot_kept_fact *k = facts->item[skip + i];
        const struct cot_page_entry *line = &lines[skip + i];
        cot_ledger_next(&chain, page->position + (int64_t)i, page->receipt, page->tag, page->number + (int64_t)i,
                        &line->digest);
        row[i] = (struct cot_new_row){line->digest, chain, k->scope, k->farm, line->line, line->len};
    }
}

/* After the commit: what is in the ledger goes into the book. If that fails the book is read anew next time. */
static void fold_added(struct cot_session *s, const struct cot_new_page *page, const struct cot_kept *facts,
                       size_t skip)
{
    struct cot_folding *f = &s->house->fold;
    bool good = true;
    for (size_t i = 0; good && i < page->count; i++) {
        const struct cot_kept_fact *k = facts->item[skip + i];
        struct cot_row row = {page->position + (int64_t)i, page->receipt, k->digest, &k->fact};
        good = cot_book_put(f->book, &row) == COT_OK;
    }
    if (good) {
        f->position = page->position + (int64_t)page->count - 1;
        f->chain = page->row[page->count - 1].chain;
    } else if (cot_house_reset(s->house, NULL) != COT_OK) {
        f->position = 0;
    }
}

enum cot_err cot_session_add(struct cot_session *s, struct cot_new_page *page, const struct cot_kept *facts,
                             const struct cot_page_entry *lines, size_t skip, struct cot_fault *fault)
{
    page->count = facts->count - skip;
    page->position = s->head.position + 1;
    page->number = s->head.number + 1;
    struct cot_new_row *row = calloc(page->count + 1, sizeof *row);
    if (!row || facts->failed) {
        free(row);
        return cot_fail(fault, COT_MEMORY, "out of memory");
    }
    page->row = row;
    chain_rows(s, page, row, facts, lines, skip);
    enum cot_err err = cot_add_page(s->tx, page, true, fault);
    if (!err) {
        fold_added(s, page, facts, skip);
        s->head.position = page->position + (int64_t)page->count - 1;
        s->head.number = page->number + (int64_t)page->count - 1;
        s->head.receipt = page->receipt;
        s->head.chain = row[page->count - 1].chain;
        s->head.journal = page->journal;
    }
    free(row);
    page->row = NULL;
    return err;
}

enum cot_err cot_books_key(struct cot_books *b, const struct cot_house_id *id, const char *tag, int64_t deadline,
                           struct cot_id *key, struct cot_fault *fault)
{
    pthread_mutex_lock(&b->lock);
    struct cot_house *h = find(b, id, false);
    bool known = h && cot_house_known_key(h, tag, key);
    pthread_mutex_unlock(&b->lock);
    if (known) return COT_OK;
    struct cot_session s;
    struct cot_standing who = {0};
    enum cot_err err = cot_session_open(b, id, NULL, deadline, &s, fault);
    if (!err) cot_book_device(s.house->fold.book, tag, INT64_MAX, &who);
    if (err == COT_NOT_FOUND || (!err && !who.known)) err = unknown_device(fault);
    if (!err) {
        *key = who.key;
        pthread_mutex_lock(&b->lock);
        cot_house_keep_key(s.house, tag, key);
        pthread_mutex_unlock(&b->lock);
    }
    cot_session_close(&s);
    return err;
}
