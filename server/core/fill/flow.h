/* Sharing one supply among claims in queue order, on plain arrays. */
#ifndef COT_CORE_FILL_FLOW_H
#define COT_CORE_FILL_FLOW_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "cotyledger/core/err.h"

struct cot_edge { /* a batch that may serve a line */
    uint32_t line, batch;
    bool spare; /* only from what is spare after everybody's own: the second pass */
};
struct cot_claim {
    uint32_t line;
    int64_t plants;
};

/* Edges are grouped by line in rising order of line, and within a line in the order in which batches are preferred
 * (those of the second pass last); claims stand in queue order. The arrays belong to the caller and must outlive the
 * net. */
struct cot_net {
    uint32_t lines, batches;
    size_t edges, claims;
    const struct cot_edge *edge;
    const struct cot_claim *claim;
    struct cot_net_inside *inside;
};
/* MEMORY. Free in any case. */
COT_MUSTCHECK enum cot_err cot_net_start(struct cot_net *net);
void cot_net_free(struct cot_net *net);

/* Shares `supply` (one figure a batch, at least 0) out: flow[e] plants on edge e. First pass: each claim in turn gets
 * as much as can be without any earlier claim getting less in sum; second pass the same with the edges marked spare,
 * and without moving plants of a first-pass edge to one of the second. */
void cot_net_share(const struct cot_net *net, const int64_t *supply, int64_t *flow);
/* Per claim: plants it did not get when the net was shared out last. */
const int64_t *cot_net_unmet(const struct cot_net *net);

/* Groups of batches that lines tie together (directly or through others): group[b] is the group's number, counted by
 * first batch from 0; returns how many. rank[b]: the batch's number within its group. */
uint32_t cot_net_groups(const struct cot_net *net, uint32_t *group, uint32_t *rank);

#endif
