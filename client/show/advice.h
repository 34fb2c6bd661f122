/* How many more trays of a batch to count, in words. */
#ifndef COTYL_SHOW_ADVICE_H
#define COTYL_SHOW_ADVICE_H

#include "client.h"
#include "cotyledger/core/count.h"

#define COT_ADVICE_TEXT 240
/* "count 2 more trays: then A-0004-5 (Alder Ford) is probably settled". False where no line hangs on the batch, or it
 * is not in the fill. */
bool cot_advice_text(const struct cot_fill *fill, const struct cot_thing *batch, char out[static COT_ADVICE_TEXT]);
/* ,"count_more":{"left","trays","line","changes"} or nothing. */
void cot_advice_json(const struct cot_fill *fill, const struct cot_thing *batch, struct cot_buf *out);

#endif
