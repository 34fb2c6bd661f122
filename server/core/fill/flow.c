/* Giving: take what is free, and if that is not enough, look for chains of exchanges that free more (augmenting paths,
 * Ford and Fulkerson 1956).
 *
 * A search that ends without anything has reached a set of batches that are all given out, to nodes that can have
 * nothing outside the set. That stays so until plants are returned: the set is dead, and no later search goes there. */
#include "fill/flow.h"

#include <stdlib.h>
#include <string.h>

#define NONE UINT32_MAX

struct cot_net_inside {
    size_t *node_first;  /* 2 * lines + 1: a node's edges */
    uint32_t *edge_node; /* per edge */
    size_t *batch_first; /* batches + 1: a batch's places in batch_edge */
    uint32_t *batch_edge;
    int64_t *flow;     /* per edge */
    int64_t *left;     /* per batch: supply not given */
    uint32_t *seen;    /* per batch: number of the search that reached it */
    uint32_t *asked;   /* per node: number of the search that asked what it may have */
    uint32_t *come_by; /* per batch: edge that would bring plants of it ... */
    uint32_t *instead; /* ... in place of this edge's; NONE: to the node that asks */
    uint32_t *queue;
    bool *dead; /* per batch */
    bool any_dead;
    uint32_t search;
};

void cot_net_free(struct cot_net *net)
{
    struct cot_net_inside *in = net->inside;
    if (!in) return;
    free(in->node_first);
    free(in->edge_node);
    free(in->batch_first);
    free(in->batch_edge);
    free(in->flow);
    free(in->left);
    free(in->seen);
    free(in->asked);
    free(in->come_by);
    free(in->instead);
    free(in->queue);
    free(in->dead);
    free(in);
    net->inside = NULL;
}

static bool reserve(const struct cot_net *net, struct cot_net_inside *in)
{
    size_t batches = (size_t)net->batches + 1;
    in->node_first = calloc(2 * (size_t)net->lines + 2, sizeof *in->node_first);
    in->edge_node = calloc(net->edges + 1, sizeof *in->edge_node);
    in->batch_first = calloc(batches, sizeof *in->batch_first);
    in->batch_edge = calloc(net->edges + 1, sizeof *in->batch_edge);
    in->flow = calloc(net->edges + 1, sizeof *in->flow);
    in->left = calloc(batches, sizeof *in->left);
    in->seen = calloc(batches, sizeof *in->seen);
    in->asked = calloc(2 * (size_t)net->lines + 1, sizeof *in->asked);
    in->come_by = calloc(batches, sizeof *in->come_by);
    in->instead = calloc(batches, sizeof *in->instead);
    in->queue = calloc(batches, sizeof *in->queue);
    in->dead = calloc(batches, sizeof *in->dead);
    return in->node_first && in->edge_node && in->batch_first && in->batch_edge && in->flow && in->left && in->seen &&
           in->asked && in->come_by && in->instead && in->queue && in->dead;
}

/* Counting sort of the edges by batch; within a batch they keep their order. */
static void index_edges(const struct cot_net *net, struct cot_net_inside *in)
{
    for (size_t e = 0; e < net->edges; e++) {
        in->edge_node[e] = 2 * net->edge[e].line + net->edge[e].spare;
        in->node_first[in->edge_node[e] + 1]++;
        in->batch_first[net->edge[e].batch + 1]++;
    }
    for (uint32_t i = 0; i < 2 * net->lines; i++) in->node_first[i + 1] += in->node_first[i];
    for (uint32_t i = 0; i < net->batches; i++) in->batch_first[i + 1] += in->batch_first[i];
    for (uint32_t i = 0; i < net->batches; i++) in->left[i] = (int64_t)in->batch_first[i];
    for (size_t e = 0; e < net->edges; e++) in->batch_edge[in->left[net->edge[e].batch]++] = (uint32_t)e;
}

enum cot_err cot_net_start(struct cot_net *net)
{
    net->inside = calloc(1, sizeof *net->inside);
    if (!net->inside || !reserve(net, net->inside)) return COT_MEMORY;
    index_edges(net, net->inside);
    return COT_OK;
}

static void reach(struct cot_net_inside *in, uint32_t batch, uint32_t by, uint32_t instead, size_t *tail)
{
    if (in->seen[batch] == in->search || in->dead[batch]) return;
    in->seen[batch] = in->search;
    in->come_by[batch] = by;
    in->instead[batch] = instead;
    in->queue[(*tail)++] = batch;
}

/* Everybody who has plants of this batch might take them from another. */
static void reach_through(const struct cot_net *net, uint32_t batch, size_t *tail)
{
    struct cot_net_inside *in = net->inside;
    for (size_t k = in->batch_first[batch]; k < in->batch_first[batch + 1]; k++) {
        uint32_t given = in->batch_edge[k], node = in->edge_node[given];
        if (in->flow[given] == 0 || in->asked[node] == in->search) continue;
        in->asked[node] = in->search;
        for (size_t e = in->node_first[node]; e < in->node_first[node + 1]; e++)
            reach(in, net->edge[e].batch, (uint32_t)e, given, tail);
    }
}

/* Moves plants along the chain by which the search came to `batch`; returns how many reached the node. */
static int64_t exchange(const struct cot_net *net, uint32_t batch, int64_t need)
{
    struct cot_net_inside *in = net->inside;
    int64_t move = need < in->left[batch] ? need : in->left[batch];
    for (uint32_t at = batch; in->instead[at] != NONE; at = net->edge[in->instead[at]].batch)
        if (in->flow[in->instead[at]] < move) move = in->flow[in->instead[at]];
    if (move == 0) return 0; /* a chain before it took what this one would exchange */
    in->left[batch] -= move;
    for (uint32_t at = batch;;) {
        uint32_t instead = in->instead[at];
        in->flow[in->come_by[at]] += move;
        if (instead == NONE) return move;
        in->flow[instead] -= move;
        at = net->edge[instead].batch;
    }
}

/* One search, breadth first from the node; every batch it finds with plants left gives what its chain can carry.
 * Returns how many plants reached the node; 0: nothing can. */
static int64_t search(const struct cot_net *net, uint32_t node, int64_t need)
{
    struct cot_net_inside *in = net->inside;
    size_t head = 0, tail = 0;
    int64_t got = 0;
    in->search++;
    in->asked[node] = in->search;
    for (size_t e = in->node_first[node]; e < in->node_first[node + 1]; e++)
        reach(in, net->edge[e].batch, (uint32_t)e, NONE, &tail);
    while (head < tail && got < need) {
        uint32_t batch = in->queue[head++];
        if (in->left[batch] > 0) got += exchange(net, batch, need - got);
        else reach_through(net, batch, &tail);
    }
    for (size_t i = 0; got == 0 && i < tail; i++) in->dead[in->queue[i]] = in->any_dead = true;
    return got;
}

void cot_net_begin(const struct cot_net *net, const int64_t *supply)
{
    struct cot_net_inside *in = net->inside;
    memcpy(in->left, supply, net->batches * sizeof *supply);
    memset(in->flow, 0, net->edges * sizeof *in->flow);
    memset(in->dead, 0, net->batches * sizeof *in->dead);
    in->any_dead = false;
}

void cot_net_keep(const struct cot_net *net, int64_t *flow, int64_t *of)
{
    memcpy(flow, net->inside->flow, net->edges * sizeof *flow);
    memset(of, 0, net->batches * sizeof *of);
    for (size_t e = 0; e < net->edges; e++) of[net->edge[e].batch] += flow[e];
}

void cot_net_resume(const struct cot_net *net, const int64_t *flow, const int64_t *of, const int64_t *supply)
{
    struct cot_net_inside *in = net->inside;
    memcpy(in->flow, flow, net->edges * sizeof *in->flow);
    for (uint32_t b = 0; b < net->batches; b++) in->left[b] = supply[b] - of[b];
    if (in->any_dead) memset(in->dead, 0, net->batches * sizeof *in->dead);
    in->any_dead = false;
}

int64_t cot_net_give(const struct cot_net *net, uint32_t node, int64_t want)
{
    struct cot_net_inside *in = net->inside;
    int64_t need = want;
    for (size_t e = in->node_first[node]; e < in->node_first[node + 1] && need > 0; e++) {
        int64_t *left = &in->left[net->edge[e].batch], take = need < *left ? need : *left;
        in->flow[e] += take;
        *left -= take;
        need -= take;
    }
    while (need > 0) {
        int64_t got = search(net, node, need);
        if (got == 0) break;
        need -= got;
    }
    return want - need;
}

void cot_net_return(const struct cot_net *net, uint32_t node, int64_t plants)
{
    struct cot_net_inside *in = net->inside;
    for (size_t e = in->node_first[node + 1]; e-- > in->node_first[node] && plants > 0;) {
        int64_t take = plants < in->flow[e] ? plants : in->flow[e];
        in->flow[e] -= take;
        in->left[net->edge[e].batch] += take;
        plants -= take;
    }
    if (in->any_dead) memset(in->dead, 0, net->batches * sizeof *in->dead);
    in->any_dead = false;
}

const int64_t *cot_net_flow(const struct cot_net *net)
{
    return net->inside->flow;
}

const int64_t *cot_net_left(const struct cot_net *net)
{
    return net->inside->left;
}

const size_t *cot_net_node(const struct cot_net *net)
{
    return net->inside->node_first;
}

const uint32_t *cot_net_edges_of(const struct cot_net *net, const size_t **first)
{
    *first = net->inside->batch_first;
    return net->inside->batch_edge;
}

/* Marks the batches of a node. */
static void want_batches(const struct cot_net *net, uint32_t node, bool *batch, size_t *tail)
{
    struct cot_net_inside *in = net->inside;
    for (size_t e = in->node_first[node]; e < in->node_first[node + 1]; e++) {
        uint32_t b = net->edge[e].batch;
        if (batch[b]) continue;
        batch[b] = true;
        in->queue[(*tail)++] = b;
    }
}

void cot_net_reach(const struct cot_net *net, bool *node, bool *batch)
{
    struct cot_net_inside *in = net->inside;
    size_t head = 0, tail = 0;
    for (uint32_t n = 0; n < 2 * net->lines; n++)
        if (node[n]) want_batches(net, n, batch, &tail);
    while (head < tail) {
        uint32_t b = in->queue[head++];
        for (size_t k = in->batch_first[b]; k < in->batch_first[b + 1]; k++) {
            uint32_t given = in->batch_edge[k], n = in->edge_node[given];
            if (in->flow[given] == 0 || node[n]) continue;
            node[n] = true;
            want_batches(net, n, batch, &tail);
        }
    }
}

uint32_t cot_net_groups(const struct cot_net *net, uint32_t *group)
{
    struct cot_net_inside *in = net->inside;
    uint32_t groups = 0;
    in->search++;
    memset(in->dead, 0, net->batches * sizeof *in->dead);
    for (uint32_t b = 0; b < net->batches; b++) {
        size_t head = 0, tail = 0;
        reach(in, b, NONE, NONE, &tail);
        while (head < tail) {
            uint32_t at = in->queue[head++];
            group[at] = groups;
            for (size_t k = in->batch_first[at]; k < in->batch_first[at + 1]; k++) {
                uint32_t line = net->edge[in->batch_edge[k]].line;
                for (size_t e = in->node_first[2 * line]; e < in->node_first[2 * line + 2]; e++)
                    reach(in, net->edge[e].batch, NONE, NONE, &tail);
            }
        }
        groups += tail > 0;
    }
    return groups;
}
