#include "fold.h"

#include <stdlib.h>
#include <string.h>

#define ROWS_AT_ONCE 2000

enum cot_err cot_folding_init(struct cot_folding *f, const struct cot_house_id *house, const struct cot_id *farm,
                              struct cot_fault *fault)
{
    memset(f, 0, sizeof *f);
    f->house = *house;
    f->whole = farm == NULL;
    f->book = cot_book_new(farm);
    f->decoder = cot_decoder_new();
    cot_ledger_start(house, &f->chain);
    if (f->book && f->decoder) return COT_OK;
    cot_folding_free(f);
    return cot_fail(fault, COT_MEMORY, "out of memory");
}

void cot_folding_free(struct cot_folding *f)
{
    cot_book_free(f->book);
    cot_decoder_free(f->decoder);
    memset(f, 0, sizeof *f);
}

static enum cot_err unfit(const struct cot_stored_row *row, const char *what, struct cot_fault *fault)
{
    cot_fail(fault, COT_STORE, "ledger position %lld: %s", (long long)row->position, what);
    return cot_hint(fault, "run `cotyld verify`; restore from a backup what it names");
}

/* The row must follow from the one before. */
static enum cot_err check_chain(const struct cot_folding *f, const struct cot_stored_row *row, bool first,
                                struct cot_fault *fault)
{
    struct cot_id chain = f->chain;
    cot_ledger_next(&chain, row->position, row->receipt, row->tag, row->number, &row->digest);
    if (row->position == f->position + 1 && cot_id_cmp(&chain, &row->chain) == 0) return COT_OK;
    if (first && f->position > 0) return cot_fail(fault, COT_CONFLICT, "the ledger has changed under its reading");
    return unfit(row, "does not follow from the row before it", fault);
}

static enum cot_err fold_row(struct cot_folding *f, const struct cot_stored_row *row, bool first, struct cot_fact *fact,
                             struct cot_fault *fault)
{
    struct cot_id digest;
    cot_digest(row->body, row->len, &digest);
    enum cot_err err = f->whole ? check_chain(f, row, first, fault) : COT_OK;
    if (!err && cot_id_cmp(&digest, &row->digest) != 0) err = unfit(row, "its bytes do not fit its digest", fault);
    if (!err && cot_entry_parse(f->decoder, row->body, row->len, fact, NULL) != COT_OK)
        err = unfit(row, "cannot be read", fault);
    if (err) return err;
    struct cot_row r = {row->position, row->receipt, row->digest, fact};
    err = cot_book_put(f->book, &r);
    if (err) return cot_fail(fault, err, "out of memory at ledger position %lld", (long long)row->position);
    f->position = row->position;
    f->chain = row->chain;
    return COT_OK;
}

static enum cot_err fold_some(struct cot_folding *f, struct cot_tx *tx, int64_t upto, struct cot_fact *fact, bool *more,
                              struct cot_fault *fault)
{
    struct cot_rows rows;
    enum cot_err err = cot_ask_rows(tx, f->position, upto, ROWS_AT_ONCE, &rows, fault);
    if (err) return err;
    for (size_t i = 0; !err && i < rows.count; i++) err = fold_row(f, &rows.row[i], i == 0, fact, fault);
    *more = rows.count == ROWS_AT_ONCE;
    cot_rows_free(&rows);
    if (!err && cot_ticks_ms() > cot_tx_deadline(tx))
        err = cot_fail(fault, COT_TIMEOUT, "reading the ledger took too long");
    return err;
}

enum cot_err cot_fold(struct cot_folding *f, struct cot_tx *tx, int64_t upto, struct cot_fault *fault)
{
    if (f->position >= upto) return COT_OK;
    struct cot_fact *fact = malloc(sizeof *fact);
    if (!fact) return cot_fail(fault, COT_MEMORY, "out of memory");
    enum cot_err err = COT_OK;
    for (bool more = true; !err && more;) err = fold_some(f, tx, upto, fact, &more, fault);
    free(fact);
    if (!err && f->whole && f->position < upto)
        err = cot_fail(fault, COT_STORE, "the ledger lacks rows after position %lld", (long long)f->position);
    if (!err) f->position = upto;
    return err;
}

enum cot_err cot_book_upto(struct cot_tx *tx, const struct cot_house_id *house, const struct cot_id *farm,
                           int64_t position, struct cot_book **out, struct cot_fault *fault)
{
    struct cot_folding f;
    *out = NULL;
    enum cot_err err = cot_folding_init(&f, house, farm, fault);
    if (!err) err = cot_fold(&f, tx, position, fault);
    if (!err) {
        *out = f.book;
        f.book = NULL;
    }
    cot_folding_free(&f);
    return err;
}
