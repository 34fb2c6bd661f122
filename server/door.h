/* The door: where a page of a device's journal becomes rows of the ledger, or is refused. */
#ifndef COTYLD_DOOR_H
#define COTYLD_DOOR_H

#include "books.h"

struct cot_range {
    int64_t first, last, position, receipt;
};
struct cot_accepted {
    struct cot_range *range; /* runs with consecutive positions and one receipt */
    size_t count;
    int64_t number; /* the device's head, for the words of a fork or a gap */
    struct cot_id chain;
    int64_t added; /* rows that were new */
};
/* `tag` and `key` are who asks, verified. The caller frees out->range.
 * Errors: MALFORMED, TOO_LARGE, UNAUTHENTIC, NOT_ALLOWED, CLOSED; FORK and GAP with number and chain. */
COT_MUSTCHECK enum cot_err cot_door_take(struct cot_books *b, const struct cot_house_id *house, const char *tag,
                                         const struct cot_id *key, const char *bytes, size_t len, int64_t deadline,
                                         struct cot_accepted *out, struct cot_fault *fault);

#endif
