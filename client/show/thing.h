/* One thing with all that is known of it. */
#ifndef COTYL_SHOW_THING_H
#define COTYL_SHOW_THING_H

#include "client.h"
#include "cotyledger/core/fill.h"

/* Heading, fields with units, for a batch its stand and whom it serves, for a line its row of the fill, whether counts
 * and tests are believable, the usual caution for treated seed, history. Text is escaped, at most 80 columns. */
void cot_thing_put_text(struct cot_cli *cli, const struct cot_thing *t, const struct cot_fill *fill,
                        struct cot_buf *out);
/* {"sort","id","name","fields":{},"stand":{}|"fill":{},"check":{},"history":[]} */
void cot_thing_put_json(struct cot_cli *cli, const struct cot_thing *t, const struct cot_fill *fill,
                        struct cot_buf *out);

/* Entries about a thing, the oldest first, and what became of them. */
void cot_history_put_text(struct cot_cli *cli, const struct cot_thing *t, struct cot_buf *out);
void cot_history_put_json(struct cot_cli *cli, const struct cot_thing *t, struct cot_buf *out); /* an array */

#endif
