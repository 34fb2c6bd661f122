/* A smaller net with the same answers: what every line gets depends only on which batches it may have, so batches that
 * the same lines may have are one, and lines that may have the same batches are one. Sharing a thousand supplies out
 * goes over this net. */
#ifndef COT_CORE_FILL_MERGE_H
#define COT_CORE_FILL_MERGE_H

#include "fill/flow.h"

struct cot_merged {
    struct cot_net net;           /* started */
    uint32_t *batch_of, *line_of; /* per batch, line of the whole net: the one it is part of */
    struct cot_edge *edge;
};
/* Lines that ask for nothing (asks[line] false) count for nothing. MEMORY. Free in any case. */
COT_MUSTCHECK enum cot_err cot_merge(const struct cot_net *whole, const bool *asks, struct cot_merged *out);
void cot_merged_free(struct cot_merged *m);

#endif
