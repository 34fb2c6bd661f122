/* Exchanges between two nodes and two batches that make pieces fewer. */
#include "fill/swap.h"

static uint32_t node_of(const struct cot_swap *t, size_t e)
{
    return 2 * t->net->edge[e].line + t->net->edge[e].spare;
}

/* The node's edge to the batch that is as good for it as edge `like`; SIZE_MAX: none. */
static size_t edge_to(const struct cot_swap *t, uint32_t node, uint32_t batch, size_t like)
{
    const size_t *first = cot_net_node(t->net);
    for (size_t e = first[node]; e < first[node + 1]; e++)
        if (t->net->edge[e].batch == batch && t->alike[e] == t->alike[like]) return e;
    return SIZE_MAX;
}

static bool whole_for(const struct cot_swap *t, size_t e, int64_t plants)
{
    return plants % t->unit[t->net->edge[e].line] == 0;
}

/* The node of `out` and `in` goes from the first batch to the second, in exchange with the node of `other`, which has
 * plants of the second. Returns how many pieces that saves; changes nothing unless it saves some. */
static size_t exchange(const struct cot_swap *t, size_t out, size_t in, size_t other)
{
    size_t back = edge_to(t, node_of(t, other), t->net->edge[out].batch, other);
    int64_t *f = t->flow, plants = f[out] < f[other] ? f[out] : f[other];
    if (back == SIZE_MAX || !whole_for(t, out, plants) || !whole_for(t, other, plants)) return 0;
    size_t gone = (f[out] == plants) + (f[other] == plants), come = f[back] == 0;
    if (gone <= come) return 0;
    f[out] -= plants;
    f[other] -= plants;
    f[in] += plants;
    f[back] += plants;
    return gone - come;
}

/* Tries to be rid of the piece `out` by having more of the batch of piece `in` instead. */
static size_t move_over(const struct cot_swap *t, size_t out, size_t in)
{
    const size_t *first;
    const uint32_t *edge = cot_net_edges_of(t->net, &first);
    uint32_t batch = t->net->edge[in].batch, node = node_of(t, in);
    for (size_t k = first[batch]; k < first[batch + 1]; k++) {
        if (t->flow[edge[k]] == 0 || node_of(t, edge[k]) == node) continue;
        size_t saved = exchange(t, out, in, edge[k]);
        if (saved) return saved;
    }
    return 0;
}

static size_t swap_node(const struct cot_swap *t, size_t from, size_t to)
{
    size_t saved = 0;
    for (size_t out = from; out < to; out++) {
        for (size_t in = from; in < to && t->flow[out] > 0; in++) {
            if (in == out || t->flow[in] == 0 || t->alike[in] != t->alike[out]) continue;
            saved += move_over(t, out, in);
        }
    }
    return saved;
}

size_t cot_swaps(const struct cot_swap *t)
{
    const size_t *first = cot_net_node(t->net);
    size_t saved = 0, now;
    do {
        now = 0;
        for (uint32_t n = 0; n < 2 * t->net->lines; n++) now += swap_node(t, first[n], first[n + 1]);
        saved += now;
    } while (now);
    return saved;
}
