/* Finding an entry by what a person has of it: the code it made, the first characters of its digest, or "last". */
#ifndef COTYL_ENTRIES_H
#define COTYL_ENTRIES_H

#include "client.h"

#define COT_PREFIX_LEAST 8 /* characters of a digest that name an entry */

/* "last": the last entry of this laptop that can be taken back and is not. A code: the entry that made the batch or
 * line. Else the start of a digest. NOT_FOUND, AMBIGUOUS, INVALID with words. */
COT_MUSTCHECK enum cot_err cot_entry_find(struct cot_cli *cli, const char *typed, struct cot_id *out);
/* The start of a digest alone, over all entries here. */
COT_MUSTCHECK enum cot_err cot_digest_find(struct cot_cli *cli, const char *prefix, struct cot_id *out);
/* "stand count of A-0012-5: day it was done 2027-03-01, ...; recorded by Wren (A 17)". Put to `out`. */
void cot_entry_words(struct cot_cli *cli, const struct cot_fact *f, struct cot_buf *out);

#endif
