/* Verifying: the whole ledger of a house read again, every byte held against what was signed and chained. */
#ifndef COTYLD_VERIFY_H
#define COTYLD_VERIFY_H

#include "store.h"

/* Called for each thing that does not fit. `position` 0: not a row. */
typedef void cot_finding(void *ctx, int64_t position, const char *what);
struct cot_verified {
    int64_t rows, seals, devices, findings;
};
/* The transaction's reach must be the whole house. What does not fit is told to `tell` and is no error of this
 * function. */
COT_MUSTCHECK enum cot_err cot_verify(struct cot_tx *tx, const struct cot_house_id *house, cot_finding *tell, void *ctx,
                                      struct cot_verified *out, struct cot_fault *fault);

#endif
