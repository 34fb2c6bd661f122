/* Where seed went: from a lot to every batch, hand-over and farm, and back; for a recall or an inspection. */
#ifndef COTYLEDGER_CORE_TRACE_H
#define COTYLEDGER_CORE_TRACE_H

#include "cotyledger/core/fill.h"

enum cot_trace_what {
    COT_TRACE_SOWN,   /* a batch from the lot */
    COT_TRACE_POTTED, /* a batch from another */
    COT_TRACE_HANDED,
    COT_TRACE_BACK,  /* plants that came back, fit or not */
    COT_TRACE_STANDS /* likely still in the house on the day of the reading */
};
struct cot_trace_row {
    enum cot_trace_what what;
    int32_t day;
    const struct cot_thing *lot, *variety, *batch, *parent; /* lot NULL: not known; parent: potted on from */
    const struct cot_thing *line, *farm, *handover;         /* of what was handed over */
    int64_t trays, plants; /* trays 0: rows of a shared tray, or not said; plants 0: not known (a sowing) */
    bool shared;           /* the batch is rows of a tray that others share */
};
struct cot_trace {
    int32_t on;
    const struct cot_thing **lot; /* all that are touched, by name */
    size_t lots;
    struct cot_trace_row *row; /* by lot's name, then day, then batch's code */
    size_t rows;
    bool unknown; /* some of the batches are of no known lot */
};
/* What hangs together with a lot or a batch (its lot, the batches it was potted on from and into, and what became of
 * them), or with a farm, an order line or a hand-over (what was handed over, and the batches and lots behind it), as
 * known on day `on`. A batch potted on carries its first parent's lot. Errors: MEMORY; INVALID: a thing of another
 * type. Free in any case. */
COT_MUSTCHECK enum cot_err cot_trace_read(struct cot_book *b, const struct cot_thing *of, int32_t on,
                                          struct cot_trace *out, struct cot_fault *fault);
void cot_trace_free(struct cot_trace *t);

/* The lot that the batch's seed came from, through the batches it was potted on from; NULL: not known. */
const struct cot_thing *cot_trace_lot(struct cot_book *b, const struct cot_thing *batch);

#endif
