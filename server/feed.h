/* What a device fetches: the ledger after a position, the head, and one position's chain. */
#ifndef COTYLD_FEED_H
#define COTYLD_FEED_H

#include "books.h"

#define COT_FEED_LIMIT 5000 /* rows, when the request does not say */
#define COT_FEED_LIMIT_MOST 20000
#define COT_FEED_BYTES (4u << 20) /* a feed ends with the page that passes this */

/* The feed after `after`, for the session's asker: rows, holes, seals and the head. Lets go of the house on the way. */
COT_MUSTCHECK enum cot_err cot_feed(struct cot_session *s, int64_t after, int64_t limit, struct cot_buf *out,
                                    struct cot_fault *fault);

/* L(position); position 0 is the beginning. */
COT_MUSTCHECK enum cot_err cot_chain_at(struct cot_session *s, int64_t position, struct cot_id *chain,
                                        struct cot_fault *fault);

#endif
