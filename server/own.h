/* The house's own journal: what the server itself writes (the founding, members it is told to make, devices that join),
 * sealed with the house's key under the tag H. */
#ifndef COTYLD_OWN_H
#define COTYLD_OWN_H

#include "books.h"

#define COT_OWN_TAG "H"

/* Fills the header of each fact, checks, appends and commits. Under a session opened with COT_OWN_TAG. `digest` (may be
 * NULL) receives n digests. Errors: INVALID, and what the store says. */
COT_MUSTCHECK enum cot_err cot_own_write(struct cot_session *s, struct cot_fact *fact, size_t n, struct cot_id *digest,
                                         struct cot_fault *fault);

#endif
