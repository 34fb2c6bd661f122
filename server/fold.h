/* Folding: rows of the ledger read from the store into a book, each held against its digest and the chain on the way.
 */
#ifndef COTYLD_FOLD_H
#define COTYLD_FOLD_H

#include "store.h"
#include "cotyledger/wire/entry.h"

struct cot_folding {
    struct cot_house_id house;
    struct cot_book *book;
    struct cot_decoder *decoder;
    int64_t position;    /* folded up to */
    struct cot_id chain; /* L(position); not kept for a farm's view, which has holes */
    bool whole;          /* every row, so that the chain can be checked */
};
/* `farm` NULL: the whole house. */
COT_MUSTCHECK enum cot_err cot_folding_init(struct cot_folding *f, const struct cot_house_id *house,
                                            const struct cot_id *farm, struct cot_fault *fault);
void cot_folding_free(struct cot_folding *f);
/* Reads on up to `upto`. What was folded before an error stays folded. COT_CONFLICT: the first new row does not follow
 * from what was folded before (the ledger is another one now); STORE: a row's bytes do not fit its digest or chain. */
COT_MUSTCHECK enum cot_err cot_fold(struct cot_folding *f, struct cot_tx *tx, int64_t upto, struct cot_fault *fault);

/* A fresh book up to a position: for looking back. The caller frees *out. The transaction's reach must be `farm`'s. */
COT_MUSTCHECK enum cot_err cot_book_upto(struct cot_tx *tx, const struct cot_house_id *house, const struct cot_id *farm,
                                         int64_t position, struct cot_book **out, struct cot_fault *fault);

#endif
