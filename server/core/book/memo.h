/* What has been found out of a thing that very many entries name, so that the next one need not look through all of
 * them: else somebody who names one thing again and again would make reading the book take ever longer. Kept within one
 * settling; only of things with long lists, so an honest house has none. */
#ifndef COT_CORE_BOOK_MEMO_H
#define COT_CORE_BOOK_MEMO_H

#include "book/arena.h"

#define COT_MEMO_LONG 32u /* entries that name a thing before it gets one */

struct cot_memo {
    uint32_t root; /* 0: free */
    bool answer_known, changes_known, closing_known;
    uint32_t answer;          /* the answer that stands; 0: none */
    uint32_t change, changes; /* its booked changes: where they start in the pool, how many */
    int64_t closing, date;    /* a line's earliest own closing day, and date of those without; INT64_MAX: none */
};
struct cot_memos {
    struct cot_memo *item; /* open addressing, `size` of them */
    uint32_t size, count;
    struct cot_list pool;
};
struct cot_memo *cot_memo_find(const struct cot_memos *m, uint32_t root); /* NULL: none */
struct cot_memo *cot_memo_make(struct cot_memos *m,
                               uint32_t root); /* found or made; NULL when out of memory. Moves others */
void cot_memos_clear(struct cot_memos *m);
void cot_memos_free(struct cot_memos *m);

#endif
