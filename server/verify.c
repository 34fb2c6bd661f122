/* Each row is held against its own bytes (digest, device, number, scope), against the row before it (chain, receipt),
 * against the device's journal and the seal that covers it, and at the end against the heads. After something that does
 * not fit, reading goes on with whatever later rows bear out, so that one flipped byte names one row. */
#include "verify.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fold.h"
#include "own.h"

#define ROWS_AT_ONCE 1000
#define MAY_BE_MOST 4

struct journal {
    char tag[COT_TAG_MAX + 1];
    int64_t number;
    struct cot_id chain;
};
struct verifying {
    struct cot_house_id house;
    struct cot_tx *tx;
    struct cot_folding fold; /* the book, from the entries that fit: it knows the devices' keys */
    struct cot_fact *fact;
    struct cot_id may_be[MAY_BE_MOST]; /* what L of the row before may be */
    int may_bes;
    int64_t position, receipt, sealed; /* read up to; receipt of that row; covered by seals up to */
    bool unsealed_mixed;               /* the rows since then are not of one journal's run */
    char run_tag[COT_TAG_MAX + 1];
    int64_t run_number;
    struct journal *journal;
    size_t journals;
    /* Keys as they stand beside the ledger, for when the entry that names one is what is damaged. */
    struct cot_id house_key;
    struct cot_joined *joined;
    size_t joins;
    cot_finding *tell;
    void *ctx;
    struct cot_verified *out;
};

static void tell(struct verifying *v, int64_t position, const char *what)
{
    v->out->findings++;
    v->tell(v->ctx, position, what);
}

static struct journal *journal_of(struct verifying *v, const char *tag)
{
    for (size_t i = 0; i < v->journals; i++)
        if (strcmp(v->journal[i].tag, tag) == 0) return &v->journal[i];
    struct journal *more = realloc(v->journal, (v->journals + 1) * sizeof *more);
    if (!more) return NULL;
    v->journal = more;
    struct journal *j = &v->journal[v->journals++];
    memset(j, 0, sizeof *j);
    snprintf(j->tag, sizeof j->tag, "%s", tag);
    cot_chain_start(&v->house, tag, &j->chain);
    return j;
}

static struct cot_id follow(const struct cot_id *before, const struct cot_stored_row *r, const struct cot_id *d)
{
    struct cot_id l = *before;
    cot_ledger_next(&l, r->position, r->receipt, r->tag, r->number, d);
    return l;
}

/* Which digest the chain bears out: the one of the bytes, the one stored, or (NULL) neither. */
static const struct cot_id *borne_out(const struct verifying *v, const struct cot_stored_row *r,
                                      const struct cot_id *of_bytes)
{
    for (int i = 0; i < v->may_bes; i++) {
        struct cot_id l = follow(&v->may_be[i], r, of_bytes);
        if (cot_id_cmp(&l, &r->chain) == 0) return of_bytes;
        l = follow(&v->may_be[i], r, &r->digest);
        if (cot_id_cmp(&l, &r->chain) == 0) return &r->digest;
    }
    return NULL;
}

/* The chain does not fit: it may be the chain itself that is wrong, or something that it covers. */
static void widen(struct verifying *v, const struct cot_stored_row *r, const struct cot_id *of_bytes)
{
    struct cot_id before = v->may_be[0];
    v->may_be[0] = r->chain;
    v->may_be[1] = follow(&before, r, of_bytes);
    v->may_be[2] = follow(&before, r, &r->digest);
    v->may_bes = 3;
}

static bool scope_fits(const struct cot_stored_row *r, const struct cot_fact *f, const struct cot_id *digest)
{
    struct cot_id farm;
    enum cot_scope scope = cot_fact_scope(f, digest, &farm);
    if (scope == COT_SCOPE_FARM) return r->scope_len == sizeof farm.b && memcmp(r->scope, farm.b, sizeof farm.b) == 0;
    return r->scope_len == 1 && r->scope[0] == (scope == COT_SCOPE_HOUSE ? 'H' : 'C');
}

/* What is said beside the bytes, against the bytes. Returns the first thing wrong, or NULL. */
static const char *check_columns(struct verifying *v, const struct cot_stored_row *r, const struct cot_id *digest,
                                 bool chain_fits)
{
    const struct cot_fact *f = v->fact;
    if (cot_entry_parse(v->fold.decoder, r->body, r->len, v->fact, NULL) != COT_OK) return "the entry cannot be read";
    if (memcmp(f->house.b, v->house.b, sizeof v->house.b) != 0) return "the entry is of another house";
    if (strcmp(f->tag, r->tag) != 0) return "its device is not the entry's";
    if (f->number != r->number) return "its number is not the entry's";
    if (!chain_fits) return "its receipt or its ledger chain does not fit the row before it";
    if (!scope_fits(r, f, digest)) return "its scope is not the entry's";
    return NULL;
}

/* The journal that the row belongs to goes on by what is most likely true. */
static enum cot_err go_on(struct verifying *v, const struct cot_stored_row *r, const struct cot_id *digest,
                          bool readable)
{
    const char *tag = readable ? v->fact->tag : r->tag;
    struct journal *j = journal_of(v, tag);
    if (!j) return COT_MEMORY;
    int64_t number = readable ? v->fact->number : j->number + 1;
    if (number != j->number + 1) tell(v, r->position, "its number does not follow in its device's journal");
    if (v->sealed + 1 == r->position) {
        snprintf(v->run_tag, sizeof v->run_tag, "%s", tag);
        v->unsealed_mixed = false;
    } else if (strcmp(v->run_tag, tag) != 0 || number != v->run_number + 1) {
        v->unsealed_mixed = true;
    }
    v->run_number = number;
    j->number = number;
    cot_chain_next(&j->chain, number, digest);
    if (!readable) return COT_OK;
    struct cot_row row = {r->position, r->receipt, *digest, v->fact};
    return cot_book_put(v->fold.book, &row);
}

static enum cot_err check_row(struct verifying *v, const struct cot_stored_row *r)
{
    struct cot_id of_bytes;
    const char *wrong = NULL;
    cot_digest(r->body, r->len, &of_bytes);
    const struct cot_id *digest = borne_out(v, r, &of_bytes);
    bool chain_fits = digest != NULL, bytes_fit = cot_id_cmp(&of_bytes, &r->digest) == 0;
    if (!digest) digest = &r->digest;
    bool readable = cot_id_cmp(&of_bytes, digest) == 0;
    if (chain_fits && !bytes_fit)
        wrong = readable ? "its digest is not the one of its bytes" : "its bytes do not fit its digest";
    else if (!bytes_fit) wrong = "its bytes, its digest and its ledger chain do not fit";
    const char *column = readable ? check_columns(v, r, digest, chain_fits) : NULL;
    if (!wrong) wrong = column;
    if (!wrong && r->receipt < v->receipt) wrong = "its receipt is earlier than the one before it";
    if (wrong) tell(v, r->position, wrong);
    if (chain_fits) {
        v->may_be[0] = r->chain;
        v->may_bes = 1;
        v->receipt = r->receipt;
    } else {
        widen(v, r, &of_bytes);
    }
    v->out->rows++;
    /* A row whose bytes say another device than its column did not fit; its bytes are right. */
    return go_on(v, r, digest, readable && (!column || strstr(column, "cannot be read") == NULL));
}

static bool key_in_book(struct verifying *v, const char *tag, struct cot_id *key)
{
    struct cot_standing d;
    if (strcmp(tag, COT_OWN_TAG) == 0) {
        const struct cot_thing *h = cot_book_house(v->fold.book);
        const struct cot_id *k = h ? cot_thing_id(h, COT_F_KEY) : NULL;
        if (k) *key = *k;
        return k != NULL;
    }
    cot_book_device(v->fold.book, tag, INT64_MAX, &d);
    if (d.known) *key = d.key;
    return d.known;
}

static bool key_of(struct verifying *v, const char *tag, struct cot_id *key)
{
    if (key_in_book(v, tag, key)) return true;
    *key = v->house_key;
    if (strcmp(tag, COT_OWN_TAG) == 0) return true;
    for (size_t i = 0; i < v->joins; i++) {
        if (strcmp(v->joined[i].tag, tag) != 0) continue;
        *key = v->joined[i].key;
        return true;
    }
    return false;
}

static const char *seal_wrong(struct verifying *v, const struct cot_stored_row *r)
{
    struct cot_seal seal;
    struct cot_id key;
    struct journal *j = journal_of(v, v->run_tag);
    if (cot_seal_peek(r->seal, r->seal_len, &seal, NULL) != COT_OK) return "its seal cannot be read";
    if (!key_of(v, seal.tag, &key)) return "its seal is of an unknown device";
    if (cot_seal_open(r->seal, r->seal_len, &key, &seal, NULL) != COT_OK) return "its seal does not verify";
    if (memcmp(seal.house.b, v->house.b, sizeof v->house.b) != 0) return "its seal is of another house";
    if (v->unsealed_mixed) return "rows before it have no seal";
    if (strcmp(seal.tag, v->run_tag) != 0 || seal.last != v->run_number) return "its seal is of other entries";
    if (!j || cot_id_cmp(&seal.after, &j->chain) != 0) return "its seal does not fit the entries that it covers";
    if (r->seal_first != v->sealed + 1 || seal.first > v->run_number - (r->position - r->seal_first))
        return "its seal's first position does not fit";
    return NULL;
}

static void check_seal(struct verifying *v, const struct cot_stored_row *r)
{
    const char *wrong = seal_wrong(v, r);
    if (wrong) tell(v, r->position, wrong);
    v->sealed = r->position;
    v->out->seals++;
}

static enum cot_err check_rows(struct verifying *v, struct cot_fault *fault)
{
    struct cot_rows rows;
    enum cot_err err = COT_OK;
    do {
        err = cot_ask_feed(v->tx, v->position, INT64_MAX, ROWS_AT_ONCE, &rows, fault);
        if (err) return err;
        for (size_t i = 0; !err && i < rows.count; i++) {
            const struct cot_stored_row *r = &rows.row[i];
            while (++v->position < r->position) {
                if (v->position + 1000 < r->position) v->position = r->position - 1; /* far away: say the last only */
                tell(v, v->position, "is missing");
            }
            err = check_row(v, r);
            if (!err && r->seal) check_seal(v, r);
        }
        if (err) cot_fail(fault, err, "out of memory");
        v->position = rows.count ? rows.row[rows.count - 1].position : v->position;
        bool more = rows.count > 0;
        cot_rows_free(&rows);
        if (!more) break;
    } while (!err);
    return err;
}

static void check_house_head(struct verifying *v, const struct cot_heads *head)
{
    bool chain = v->position == 0;
    for (int i = 0; i < v->may_bes; i++) chain = chain || cot_id_cmp(&v->may_be[i], &head->chain) == 0;
    if (head->position != v->position) tell(v, 0, "the house's head is not at the last row");
    else if (!chain) tell(v, 0, "the house's head has another chain than the last row");
    else if (head->receipt != v->receipt && v->may_bes == 1)
        tell(v, 0, "the house's head has another receipt than the last row");
    if (v->sealed < v->position) tell(v, v->position, "the last rows have no seal");
}

static enum cot_err check_device_heads(struct verifying *v, struct cot_fault *fault)
{
    struct cot_device_head *heads;
    size_t n;
    char words[100];
    enum cot_err err = cot_ask_device_heads(v->tx, &heads, &n, fault);
    if (err) return err;
    for (size_t i = 0; i < n; i++) {
        struct journal *j = journal_of(v, heads[i].tag);
        bool fits = j && j->number == heads[i].number && cot_id_cmp(&j->chain, &heads[i].chain) == 0;
        if (fits) continue;
        snprintf(words, sizeof words, "the head of device %s does not fit its rows", heads[i].tag);
        tell(v, 0, words);
    }
    size_t known = 0;
    for (size_t i = 0; i < v->journals; i++) known += v->journal[i].number > 0;
    if (known > n) tell(v, 0, "the head of a device is missing");
    v->out->devices = (int64_t)n;
    free(heads);
    return COT_OK;
}

/* Keys beside the ledger must be the ones that entries name; those are in the book unless they were named already. */
static void check_keys(struct verifying *v)
{
    struct cot_id key;
    char words[100];
    if (key_in_book(v, COT_OWN_TAG, &key) && cot_id_cmp(&key, &v->house_key) != 0)
        tell(v, 0, "the house's secret key is not the one of entry 1");
    for (size_t i = 0; i < v->joins; i++) {
        if (!key_in_book(v, v->joined[i].tag, &key) || cot_id_cmp(&key, &v->joined[i].key) == 0) continue;
        snprintf(words, sizeof words, "the join of device %s has another key than its entry", v->joined[i].tag);
        tell(v, 0, words);
    }
}

static enum cot_err read_keys(struct verifying *v, struct cot_fault *fault)
{
    uint8_t seed[32];
    struct cot_keypair pair;
    enum cot_err err = cot_ask_secret(v->tx, seed, fault);
    if (err == COT_NOT_FOUND) {
        tell(v, 0, "the house's secret key is missing");
        err = COT_OK;
    } else if (!err) {
        cot_keypair_from_seed(seed, &pair);
        v->house_key = pair.pub;
        sodium_memzero(seed, sizeof seed);
        sodium_memzero(&pair, sizeof pair);
    }
    return err ? err : cot_ask_joined_all(v->tx, &v->joined, &v->joins, fault);
}

enum cot_err cot_verify(struct cot_tx *tx, const struct cot_house_id *house, cot_finding *to, void *ctx,
                        struct cot_verified *out, struct cot_fault *fault)
{
    struct cot_heads head;
    memset(out, 0, sizeof *out);
    struct verifying v = {.house = *house, .tx = tx, .tell = to, .ctx = ctx, .out = out, .may_bes = 1};
    cot_ledger_start(house, &v.may_be[0]);
    v.fact = malloc(sizeof *v.fact);
    enum cot_err err =
        v.fact ? cot_folding_init(&v.fold, house, NULL, fault) : cot_fail(fault, COT_MEMORY, "out of memory");
    if (!err) err = read_keys(&v, fault);
    if (!err) err = cot_ask_head(tx, &head, fault);
    if (!err) err = check_rows(&v, fault);
    if (!err) check_house_head(&v, &head);
    if (!err) err = check_device_heads(&v, fault);
    if (!err) check_keys(&v);
    cot_folding_free(&v.fold);
    free(v.journal);
    free(v.joined);
    free(v.fact);
    return err;
}
