/* No root at run time. */
#ifndef COTYLD_PRIV_H
#define COTYLD_PRIV_H

#include "cotyledger/core/err.h"

/* Makes `dir` (NULL: none) when it is not there, readable by its owner only. When root: gives it to the user to run as
 * (`user`, else the owner of `dir` when that is not root, else "cotyledger" if there is one, else "nobody") and becomes
 * that user for good. Call from the only thread. */
COT_MUSTCHECK enum cot_err cot_drop_root(const char *user, const char *dir, struct cot_fault *fault);

#endif
