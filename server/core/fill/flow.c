/* Claims served in queue order: take what is free, and if that is not enough, look for chains of exchanges that free
 * more (augmenting paths, Ford and Fulkerson 1956).
 *
 * A search that ends without enough has reached a set of batches that are all given out, to lines that can have nothing
 * outside the set. That stays so while claims are only added, in the second pass too, since plants of a first-pass edge
 * stay on such edges: the set is dead, and no later search goes there. */
#include "fill/flow.h"

#include <stdlib.h>
#include <string.h>

#define NONE UINT32_MAX

/* Scratch of one net; the index of edges by batch, and the search's marks. */
struct cot_net_inside {
    size_t *line_first;  /* lines + 1: a line's edges */
    size_t *batch_first; /* batches + 1: a batch's places in batch_edge */
    uint32_t *batch_edge;
    int64_t *left;     /* per batch: supply not given */
    int64_t *unmet;    /* per claim */
    uint32_t *seen;    /* per batch: number of the search that reached it */
    uint32_t *come_by; /* per batch: edge that would bring plants of it ... */
    uint32_t *instead; /* ... in place of this edge's; NONE: to the line that asks */
    uint32_t *queue;
    bool *dead; /* per batch */
    uint32_t search;
};

void cot_net_free(struct cot_net *net)
{
    struct cot_net_inside *in = net->inside;
    if (!in) return;
    free(in->line_first);
    free(in->batch_first);
    free(in->batch_edge);
    free(in->left);
    free(in->unmet);
    free(in->seen);
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
    in->line_first = calloc((size_t)net->lines + 1, sizeof *in->line_first);
    in->batch_first = calloc(batches, sizeof *in->batch_first);
    in->batch_edge = calloc(net->edges + 1, sizeof *in->batch_edge);
    in->left = calloc(batches, sizeof *in->left);
    in->unmet = calloc(net->claims + 1, sizeof *in->unmet);
    in->seen = calloc(batches, sizeof *in->seen);
    in->come_by = calloc(batches, sizeof *in->come_by);
    in->instead = calloc(batches, sizeof *in->instead);
    in->queue = calloc(batches, sizeof *in->queue);
    in->dead = calloc(batches, sizeof *in->dead);
    return in->line_first && in->batch_first && in->batch_edge && in->left && in->unmet && in->seen && in->come_by &&
           in->instead && in->queue && in->dead;
}

/* Counting sort of the edges by batch; within a batch they keep their order. */
static void index_edges(const struct cot_net *net, struct cot_net_inside *in)
{
    for (size_t e = 0; e < net->edges; e++) {
        in->line_first[net->edge[e].line + 1]++;
        in->batch_first[net->edge[e].batch + 1]++;
    }
    for (uint32_t i = 0; i < net->lines; i++) in->line_first[i + 1] += in->line_first[i];
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
static void reach_through(const struct cot_net *net, const int64_t *flow, bool spare, uint32_t batch, size_t *tail)
{
    struct cot_net_inside *in = net->inside;
    for (size_t k = in->batch_first[batch]; k < in->batch_first[batch + 1]; k++) {
        uint32_t given = in->batch_edge[k];
        if (flow[given] == 0) continue;
        uint32_t line = net->edge[given].line;
        for (size_t e = in->line_first[line]; e < in->line_first[line + 1]; e++) {
            if (net->edge[e].spare && (!spare || !net->edge[given].spare)) continue;
            reach(in, net->edge[e].batch, (uint32_t)e, given, tail);
        }
    }
}

/* Moves plants along the chain by which the search came to `batch`; returns how many reached the line. */
static int64_t exchange(const struct cot_net *net, int64_t *flow, uint32_t batch, int64_t need)
{
    struct cot_net_inside *in = net->inside;
    int64_t move = need < in->left[batch] ? need : in->left[batch];
    for (uint32_t at = batch; in->instead[at] != NONE; at = net->edge[in->instead[at]].batch)
        if (flow[in->instead[at]] < move) move = flow[in->instead[at]];
    if (move == 0) return 0; /* a chain before it took what this one would exchange */
    in->left[batch] -= move;
    for (uint32_t at = batch;;) {
        uint32_t instead = in->instead[at];
        flow[in->come_by[at]] += move;
        if (instead == NONE) return move;
        flow[instead] -= move;
        at = net->edge[instead].batch;
    }
}

/* One search, breadth first from the line; every batch it finds with plants left gives what its chain can carry.
 * Returns how many plants reached the line; 0: nothing can. */
static int64_t search(const struct cot_net *net, int64_t *flow, bool spare, uint32_t line, int64_t need)
{
    struct cot_net_inside *in = net->inside;
    size_t head = 0, tail = 0;
    int64_t got = 0;
    in->search++;
    for (size_t e = in->line_first[line]; e < in->line_first[line + 1]; e++)
        if (spare || !net->edge[e].spare) reach(in, net->edge[e].batch, (uint32_t)e, NONE, &tail);
    while (head < tail && got < need) {
        uint32_t batch = in->queue[head++];
        if (in->left[batch] > 0) got += exchange(net, flow, batch, need - got);
        else reach_through(net, flow, spare, batch, &tail);
    }
    for (size_t i = 0; got == 0 && i < tail; i++) in->dead[in->queue[i]] = true;
    return got;
}

static void serve(const struct cot_net *net, int64_t *flow, bool spare, size_t claim)
{
    struct cot_net_inside *in = net->inside;
    uint32_t line = net->claim[claim].line;
    int64_t need = in->unmet[claim];
    for (size_t e = in->line_first[line]; e < in->line_first[line + 1] && need > 0; e++) {
        if (net->edge[e].spare != spare) continue;
        int64_t *left = &in->left[net->edge[e].batch], take = need < *left ? need : *left;
        flow[e] += take;
        *left -= take;
        need -= take;
    }
    while (need > 0) {
        int64_t got = search(net, flow, spare, line, need);
        if (got == 0) break;
        need -= got;
    }
    in->unmet[claim] = need;
}

void cot_net_share(const struct cot_net *net, const int64_t *supply, int64_t *flow)
{
    struct cot_net_inside *in = net->inside;
    bool any_spare = false;
    for (uint32_t i = 0; i < net->batches; i++) {
        in->left[i] = supply[i];
        in->dead[i] = false;
    }
    for (size_t i = 0; i < net->claims; i++) in->unmet[i] = net->claim[i].plants;
    for (size_t e = 0; e < net->edges; e++) {
        flow[e] = 0;
        any_spare = any_spare || net->edge[e].spare;
    }
    for (size_t i = 0; i < net->claims; i++) serve(net, flow, false, i);
    for (size_t i = 0; any_spare && i < net->claims; i++)
        if (in->unmet[i] > 0) serve(net, flow, true, i);
}

const int64_t *cot_net_unmet(const struct cot_net *net)
{
    return net->inside->unmet;
}

uint32_t cot_net_groups(const struct cot_net *net, uint32_t *group, uint32_t *rank)
{
    struct cot_net_inside *in = net->inside;
    uint32_t groups = 0;
    in->search++;
    for (uint32_t b = 0; b < net->batches; b++) in->dead[b] = false;
    for (uint32_t b = 0; b < net->batches; b++) {
        size_t head = 0, tail = 0;
        reach(in, b, NONE, NONE, &tail);
        while (head < tail) {
            uint32_t at = in->queue[head++];
            group[at] = groups;
            for (size_t k = in->batch_first[at]; k < in->batch_first[at + 1]; k++) {
                uint32_t line = net->edge[in->batch_edge[k]].line;
                for (size_t e = in->line_first[line]; e < in->line_first[line + 1]; e++)
                    reach(in, net->edge[e].batch, NONE, NONE, &tail);
            }
        }
        groups += tail > 0;
    }
    /* Ranks by number of batch, not by the walk, which hangs on the order of edges. */
    uint32_t *next = in->come_by;
    for (uint32_t i = 0; i < groups; i++) next[i] = 0;
    for (uint32_t b = 0; b < net->batches; b++) rank[b] = next[group[b]]++;
    return groups;
}
