/* Hand-overs and what came back of them, read once for a report: by batch for the stand, by line for the fill. */
#ifndef COT_CORE_HANDOVERS_H
#define COT_CORE_HANDOVERS_H

#include "cotyledger/core/book.h"

struct cot_handover {
    const struct cot_thing *thing;
    struct cot_id line, batch;
    int32_t day;
    int64_t trays, plants, refused, back, owed; /* as in struct cot_handover_row */
};

/* Those booked and dated by `on`, in identity order. The caller frees *out. MEMORY. */
COT_MUSTCHECK enum cot_err cot_handovers_list(struct cot_book *b, int32_t on, struct cot_handover **out, size_t *n);

/* Plants of one batch that went out less those that came back usable; `back`: those. */
int64_t cot_handed_of_batch(const struct cot_handover *h, size_t n, const struct cot_id *batch, int64_t *back);

#endif
