/* Words typed wrong, and the names nearest to them. */
#ifndef COTYL_WORDS_H
#define COTYL_WORDS_H

#include <stddef.h>

/* Edits (insert, delete, change, swap of neighbours) from a to b; words over 40 bytes count as far. */
size_t cot_edits(const char *a, const char *b);
/* Up to three of the names that start with `typed` or are at most two edits away (one for words up to three letters),
 * nearest first, as "a, b, c"; "" if none. */
void cot_nearest(const char *typed, const char *const *names, size_t n, char out[static 120]);

#endif
