/* A farm that cannot plant yet: what the house keeps for it, until when the plants are fit, and who else could take
 * them. A reading of what-ifs; nothing is recorded. */
#ifndef COTYLEDGER_CORE_HOLD_H
#define COTYLEDGER_CORE_HOLD_H

#include "cotyledger/core/fill.h"

#define COT_HOLD_PARTS 16 /* batches told of, the largest first */
#define COT_HOLD_TAKERS 8 /* lines told of, those that would take most first */
struct cot_hold_part {
    const struct cot_thing *batch;
    int64_t plants;
    int64_t trays, spots; /* of the batch, for these plants, rounded up */
    const char *bench;    /* where most of the batch stands; "" nobody said */
    int32_t fit;          /* last day on which it is fit in its tray; COT_DAY_NONE: not known */
};
struct cot_hold_taker {
    const struct cot_thing *line, *farm;
    int32_t date;
    int64_t plants; /* that it lacks, and would get */
};
struct cot_hold {
    const struct cot_thing *line, *farm;
    int32_t date, until; /* day on which it would collect without the hold, and with it */
    int64_t plants;      /* likely to come to it on `date` */
    int64_t kept;        /* likely to come to it on `until` */
    struct cot_hold_part part[COT_HOLD_PARTS];
    int parts;
    struct cot_hold_taker taker[COT_HOLD_TAKERS];
    int takers;
};
/* Of the line, held until `until` (a day from its own day on), as known on day `on`. Errors: INVALID: no order line, or
 * one that was withdrawn; MEMORY. */
COT_MUSTCHECK enum cot_err cot_hold_read(struct cot_book *b, int32_t on, const struct cot_thing *line, int32_t until,
                                         struct cot_hold *out, struct cot_fault *fault);

#endif
