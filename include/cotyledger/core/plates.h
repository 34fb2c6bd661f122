/* The house's plates and what a sowing wants of one, as plate.h takes them. Readings of the book. */
#ifndef COTYLEDGER_CORE_PLATES_H
#define COTYLEDGER_CORE_PLATES_H

#include "cotyledger/core/book.h"
#include "cotyledger/core/plate.h"

#define COT_PLATES_MOST 256 /* that are looked at */

/* The plates that were not taken back, in order of identity; things and figures side by side, COT_PLATES_MOST of each
 * at most. Patterns are the book's. Returns how many. */
uint32_t cot_plates_read(struct cot_book *b, const struct cot_thing **thing, struct cot_plate *plate);
/* What sowing so many seeds a cell of the lot (NULL: nothing is known of it) into the format wants. Seeds in a gram:
 * the lot's own, or those of its crop where the seed is bare. */
void cot_plates_wish(struct cot_book *b, const struct cot_thing *lot, const struct cot_thing *format, int64_t per_cell,
                     struct cot_plate_wish *out);

#endif
