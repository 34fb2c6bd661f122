/* Stock on hand: growing mix, labels, trays of each format, as they were last counted. Seed is with its lot. */
#ifndef COTYLEDGER_CORE_STOCK_H
#define COTYLEDGER_CORE_STOCK_H

#include "cotyledger/core/book.h"

enum cot_stock_what { COT_STOCK_MIX, COT_STOCK_LABELS, COT_STOCK_TRAYS };

struct cot_stock {
    enum cot_stock_what what;
    const struct cot_thing *format; /* TRAYS */
    int64_t amount;                 /* litres, labels, trays */
    int32_t day;                    /* counted on */
    struct cot_id entry;
};

/* The latest count of each, by its day and then its place, of those of `on` or before: mix, labels, then trays by the
 * format's name. Nothing that was used since is taken off: the reader shows the age. *list is malloc'd for the caller;
 * NULL with *n = 0 when nothing was counted. Errors: MEMORY. */
COT_MUSTCHECK enum cot_err cot_stock_read(struct cot_book *b, int32_t on, struct cot_stock **list, size_t *n);

/* Unit for people: "L", "labels", "trays". */
const char *cot_stock_unit(enum cot_stock_what what);

#endif
