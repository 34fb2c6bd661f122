/* What a hold of an order line keeps, in words. */
#ifndef COTYL_SHOW_HOLD_H
#define COTYL_SHOW_HOLD_H

#include "cotyledger/core/hold.h"
#include "table.h"

/* A paragraph for the line, one for each batch kept for it, one for who else could take the plants. */
void cot_hold_put(const struct cot_hold *h, struct cot_buf *out);
/* The same for every line that waits for its farm as of `on`; nothing when there is none. */
COT_MUSTCHECK enum cot_err cot_holds_put(struct cot_cli *cli, int32_t on, struct cot_buf *out);

#endif
