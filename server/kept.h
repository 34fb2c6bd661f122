/* Facts of a page, kept while the page goes through the door: read once, seen by the scope check and then by the book.
 */
#ifndef COTYLD_KEPT_H
#define COTYLD_KEPT_H

#include "cotyledger/wire/seal.h"

struct cot_kept_fact {
    struct cot_fact fact;
    struct cot_id digest;
    enum cot_scope scope;
    struct cot_id farm; /* of COT_SCOPE_FARM */
};
struct cot_kept {
    struct cot_kept_fact **item;
    size_t count, cap;
    void *blocks;
    bool failed; /* out of memory once: what is here is not whole */
};
void cot_kept_free(struct cot_kept *k);
void cot_kept_add(struct cot_kept *k, const struct cot_fact *f, const struct cot_id *digest);
/* For cot_page_read_each; `ctx` is a struct cot_kept. */
void cot_kept_each(void *ctx, size_t i, const struct cot_fact *f, const struct cot_id *digest);

#endif
