/* Giving supply out along the edges of a net, on plain arrays: who has what may change hands, what each has in sum does
 * not fall. */
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

/* A line asks in two parts: node 2 * line for its own edges, 2 * line + 1 for those marked spare. Plants never move
 * from one node to another. Edges are grouped by line in rising order of line, and within a line in the order in which
 * batches are preferred, those marked spare last. The arrays belong to the caller and must outlive the net. */
struct cot_net {
    uint32_t lines, batches;
    size_t edges;
    const struct cot_edge *edge;
    struct cot_net_inside *inside;
};
/* MEMORY. Free in any case. */
COT_MUSTCHECK enum cot_err cot_net_start(struct cot_net *net);
void cot_net_free(struct cot_net *net);

/* Nothing is given yet of `supply` (one figure a batch, at least 0). */
void cot_net_begin(const struct cot_net *net, const int64_t *supply);
/* Keeps what is given now in the caller's `flow` (per edge) and `of` (per batch); cot_net_resume starts from there,
 * with a supply of which every batch has at least what was kept of it. */
void cot_net_keep(const struct cot_net *net, int64_t *flow, int64_t *of);
void cot_net_resume(const struct cot_net *net, const int64_t *flow, const int64_t *of, const int64_t *supply);
/* Gives the node as much of `want` as can be without another node having less; returns how much. */
int64_t cot_net_give(const struct cot_net *net, uint32_t node, int64_t want);
/* Takes `plants` of what the node has back, from the least preferred batches first. */
void cot_net_return(const struct cot_net *net, uint32_t node, int64_t plants);

const int64_t *cot_net_flow(const struct cot_net *net); /* per edge */
const int64_t *cot_net_left(const struct cot_net *net); /* per batch: not given */
const size_t *
cot_net_node(const struct cot_net *net); /* 2 * lines + 1: a node's edges are node[n] .. node[n + 1] - 1 */
/* Edges of batch b: batch_edge[first[b]] .. batch_edge[first[b + 1] - 1], rising. */
const uint32_t *cot_net_edges_of(const struct cot_net *net, const size_t **first);

/* What is in want of the same batches as the nodes marked in `node` (one flag a node): marks in `node` and `batch` all
 * that could give way to them, directly or through others. The flags of batches start false. */
void cot_net_reach(const struct cot_net *net, bool *node, bool *batch);

/* Groups of batches that lines tie together (directly or through others): group[b] is the group's number, counted by
 * first batch from 0; returns how many. */
uint32_t cot_net_groups(const struct cot_net *net, uint32_t *group);

#endif
