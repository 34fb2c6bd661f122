/* What is odd about a sowing, planned or done: said, never refused. */
#ifndef COTYL_SOWING_H
#define COTYL_SOWING_H

#include "work.h"

struct cot_sowing_words {
    const struct cot_thing *lot, *format, *plate; /* plate NULL: by hand */
    int64_t trays, rows;                          /* one of them; 0 not said */
    int64_t per_cell;                             /* 0: as the plate drops, else 1 */
    int32_t day;
};
/* The plate's cells or pattern are not the tray's; the lot is past its use, called back, or has less seed on hand than
 * the sowing takes. */
void cot_warn_sowing(struct cot_job *w, const struct cot_sowing_words *s);

#endif
