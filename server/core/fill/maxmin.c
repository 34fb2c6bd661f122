/* Levels by decomposition. */
#include "fill/maxmin.h"

#include <stdlib.h>
#include <string.h>

#include "fill/share.h"

#define NOWHERE (-1)

struct range { /* of the lists of nodes and batches */
    uint32_t node, nodes, batch, batches;
};

struct cot_maxmin_inside {
    uint32_t *wish_first, *wish_of; /* per line: its wishes */
    uint32_t *node_list, *batch_list, *spill;
    struct range *unsolved;            /* sets still to be solved */
    int64_t *group_node, *group_batch; /* number of the set that is being solved, or another */
    int64_t group;
    bool *active;                   /* per wish: gets something at the level tried */
    cot_wide *want, *left, *flow;   /* per node, batch, edge; in units of 1 / denominator */
    int32_t *node_at, *batch_at;    /* layers; NOWHERE */
    size_t *node_next, *batch_next; /* edges not tried yet */
    uint32_t *queue, *path;
};

void cot_maxmin_free(struct cot_maxmin *m)
{
    struct cot_maxmin_inside *in = m->inside;
    if (!in) return;
    free(in->wish_first);
    free(in->wish_of);
    free(in->node_list);
    free(in->batch_list);
    free(in->spill);
    free(in->unsolved);
    free(in->group_node);
    free(in->group_batch);
    free(in->active);
    free(in->want);
    free(in->left);
    free(in->flow);
    free(in->node_at);
    free(in->batch_at);
    free(in->node_next);
    free(in->batch_next);
    free(in->queue);
    free(in->path);
    free(in);
    m->inside = NULL;
}

static bool reserve(const struct cot_maxmin *m, struct cot_maxmin_inside *in)
{
    size_t nodes = 2 * (size_t)m->net->lines + 1, batches = (size_t)m->net->batches + 1, all = nodes + batches;
    in->wish_first = calloc((size_t)m->net->lines + 2, sizeof *in->wish_first);
    in->wish_of = calloc((size_t)m->wishes + 1, sizeof *in->wish_of);
    in->node_list = calloc(nodes, sizeof *in->node_list);
    in->batch_list = calloc(batches, sizeof *in->batch_list);
    in->spill = calloc(all, sizeof *in->spill);
    in->unsolved = calloc(all + 1, sizeof *in->unsolved);
    in->group_node = calloc(nodes, sizeof *in->group_node);
    in->group_batch = calloc(batches, sizeof *in->group_batch);
    in->active = calloc((size_t)m->wishes + 1, sizeof *in->active);
    in->want = calloc(nodes, sizeof *in->want);
    in->left = calloc(batches, sizeof *in->left);
    in->flow = calloc(m->net->edges + 1, sizeof *in->flow);
    in->node_at = calloc(nodes, sizeof *in->node_at);
    in->batch_at = calloc(batches, sizeof *in->batch_at);
    in->node_next = calloc(nodes, sizeof *in->node_next);
    in->batch_next = calloc(batches, sizeof *in->batch_next);
    in->queue = calloc(all, sizeof *in->queue);
    in->path = calloc(all + 1, sizeof *in->path);
    return in->wish_first && in->wish_of && in->node_list && in->batch_list && in->spill && in->unsolved &&
           in->group_node && in->group_batch && in->active && in->want && in->left && in->flow && in->node_at &&
           in->batch_at && in->node_next && in->batch_next && in->queue && in->path;
}

enum cot_err cot_maxmin_start(struct cot_maxmin *m, const struct cot_net *net, const struct cot_wish *wish,
                              uint32_t wishes)
{
    *m = (struct cot_maxmin){.net = net, .wish = wish, .wishes = wishes};
    struct cot_maxmin_inside *in = m->inside = calloc(1, sizeof *m->inside);
    if (!in || !reserve(m, in)) return COT_MEMORY;
    for (uint32_t w = 0; w < wishes; w++) in->wish_first[wish[w].line + 2]++;
    for (uint32_t l = 0; l < net->lines; l++) in->wish_first[l + 1] += in->wish_first[l];
    for (uint32_t w = 0; w < wishes; w++) in->wish_of[in->wish_first[wish[w].line + 1]++] = w;
    return COT_OK;
}

/* --- A flow that carries what is wanted, by layers ------------------------------------------------------------- */

/* Layers from the nodes that want more; returns whether a batch with something left was reached. */
static bool lay_out(const struct cot_maxmin *m, const struct range *r)
{
    struct cot_maxmin_inside *in = m->inside;
    const size_t *node_first = cot_net_node(m->net), *batch_first;
    const uint32_t *batch_edge = cot_net_edges_of(m->net, &batch_first);
    size_t head = 0, tail = 0;
    bool reached = false;
    for (uint32_t i = 0; i < r->nodes; i++) {
        uint32_t n = in->node_list[r->node + i];
        in->node_next[n] = node_first[n];
        in->node_at[n] = in->want[n] > 0 ? 0 : NOWHERE;
        if (in->want[n] > 0) in->queue[tail++] = n;
    }
    for (uint32_t i = 0; i < r->batches; i++) {
        uint32_t b = in->batch_list[r->batch + i];
        in->batch_next[b] = batch_first[b];
        in->batch_at[b] = NOWHERE;
    }
    for (; head < tail; head++) {
        uint32_t n = in->queue[head];
        for (size_t e = node_first[n]; e < node_first[n + 1]; e++) {
            uint32_t b = m->net->edge[e].batch;
            if (in->group_batch[b] != in->group || in->batch_at[b] != NOWHERE) continue;
            in->batch_at[b] = in->node_at[n] + 1;
            reached = reached || in->left[b] > 0;
            for (size_t k = batch_first[b]; k < batch_first[b + 1]; k++) {
                uint32_t given = batch_edge[k], other = 2 * m->net->edge[given].line + m->net->edge[given].spare;
                if (in->group_node[other] != in->group || in->flow[given] == 0 || in->node_at[other] != NOWHERE)
                    continue;
                in->node_at[other] = in->batch_at[b] + 1;
                in->queue[tail++] = other;
            }
        }
    }
    return reached;
}

/* The next edge from node n to a batch of the next layer; false when there is none. */
static bool step_to_batch(const struct cot_maxmin *m, uint32_t n, uint32_t *edge)
{
    struct cot_maxmin_inside *in = m->inside;
    const size_t *node_first = cot_net_node(m->net);
    for (; in->node_next[n] < node_first[n + 1]; in->node_next[n]++) {
        uint32_t b = m->net->edge[in->node_next[n]].batch;
        if (in->group_batch[b] != in->group || in->batch_at[b] != in->node_at[n] + 1) continue;
        *edge = (uint32_t)in->node_next[n];
        return true;
    }
    return false;
}

/* The next edge by which batch b could take plants back from a node of the next layer. */
static bool step_to_node(const struct cot_maxmin *m, uint32_t b, uint32_t *edge)
{
    struct cot_maxmin_inside *in = m->inside;
    const size_t *batch_first;
    const uint32_t *batch_edge = cot_net_edges_of(m->net, &batch_first);
    for (; in->batch_next[b] < batch_first[b + 1]; in->batch_next[b]++) {
        uint32_t e = batch_edge[in->batch_next[b]], n = 2 * m->net->edge[e].line + m->net->edge[e].spare;
        if (in->group_node[n] != in->group || in->flow[e] == 0 || in->node_at[n] != in->batch_at[b] + 1) continue;
        *edge = e;
        return true;
    }
    return false;
}

/* Sends along the path what it carries: edges 0, 2 ... forwards, 1, 3 ... backwards. */
static void send(const struct cot_maxmin *m, uint32_t root, uint32_t batch, uint32_t depth)
{
    struct cot_maxmin_inside *in = m->inside;
    cot_wide move = in->want[root] < in->left[batch] ? in->want[root] : in->left[batch];
    for (uint32_t i = 1; i < depth; i += 2)
        if (in->flow[in->path[i]] < move) move = in->flow[in->path[i]];
    for (uint32_t i = 0; i < depth; i++) in->flow[in->path[i]] += i % 2 ? -move : move;
    in->want[root] -= move;
    in->left[batch] -= move;
}

/* Depth first from one node through the layers, until it wants nothing or no path is left. */
static void fill_from(const struct cot_maxmin *m, uint32_t root)
{
    struct cot_maxmin_inside *in = m->inside;
    uint32_t depth = 0, at = root, edge;
    bool at_node = true;
    while (in->want[root] > 0) {
        if (at_node && step_to_batch(m, at, &edge)) {
            in->path[depth++] = edge;
            at = m->net->edge[edge].batch;
            at_node = false;
        } else if (!at_node && in->left[at] > 0) {
            send(m, root, at, depth);
            depth = 0;
            at = root;
            at_node = true;
        } else if (!at_node && step_to_node(m, at, &edge)) {
            in->path[depth++] = edge;
            at = 2 * m->net->edge[edge].line + m->net->edge[edge].spare;
            at_node = true;
        } else if (depth == 0) {
            return;
        } else { /* a dead end: back, and that edge is tried no more */
            edge = in->path[--depth];
            if (at_node) in->batch_next[at = m->net->edge[edge].batch]++;
            else in->node_next[at = 2 * m->net->edge[edge].line + m->net->edge[edge].spare]++;
            at_node = !at_node;
        }
    }
}

/* False when not all that is wanted can be carried; then the layers reached are the cut. */
static bool carry(const struct cot_maxmin *m, const struct range *r)
{
    struct cot_maxmin_inside *in = m->inside;
    const size_t *node_first = cot_net_node(m->net);
    for (uint32_t i = 0; i < r->nodes; i++) {
        uint32_t n = in->node_list[r->node + i];
        for (size_t e = node_first[n]; e < node_first[n + 1]; e++) in->flow[e] = 0;
    }
    while (lay_out(m, r))
        for (uint32_t i = 0; i < r->nodes; i++) fill_from(m, in->node_list[r->node + i]);
    for (uint32_t i = 0; i < r->nodes; i++)
        if (in->want[in->node_list[r->node + i]] > 0) return false;
    return true;
}

/* --- Levels --------------------------------------------------------------------------------------------------------
 */
struct level {
    int64_t num, den;
};

static bool asks(const struct cot_maxmin_task *t, uint32_t node)
{
    return (node & 1) == t->spare;
}

static int64_t before(const struct cot_maxmin *m, const struct cot_maxmin_task *t, uint32_t w)
{
    return m->wish[w].handed + t->got[w];
}

static int64_t promised(const struct cot_maxmin *m, uint32_t w)
{
    return m->wish[w].handed + m->wish[w].need;
}

/* Level that `supply` gives the active wishes of the set's nodes: what they have and get, of what was promised. */
static struct level level_of(const struct cot_maxmin *m, const struct cot_maxmin_task *t, const struct range *r,
                             int64_t supply)
{
    struct cot_maxmin_inside *in = m->inside;
    struct level v = {supply, 0};
    for (uint32_t i = 0; i < r->nodes; i++) {
        uint32_t n = in->node_list[r->node + i], line = n / 2;
        for (uint32_t k = in->wish_first[line]; asks(t, n) && k < in->wish_first[line + 1]; k++) {
            uint32_t w = in->wish_of[k];
            if (!in->active[w]) continue;
            v.num += before(m, t, w);
            v.den += promised(m, w);
        }
    }
    return v;
}

/* Leaves out those that are filled further already than the level; returns whether there were any. */
static bool leave_out(const struct cot_maxmin *m, const struct cot_maxmin_task *t, const struct range *r,
                      const struct level *v)
{
    struct cot_maxmin_inside *in = m->inside;
    bool any = false;
    for (uint32_t i = 0; i < r->nodes; i++) {
        uint32_t n = in->node_list[r->node + i], line = n / 2;
        for (uint32_t k = in->wish_first[line]; asks(t, n) && k < in->wish_first[line + 1]; k++) {
            uint32_t w = in->wish_of[k];
            if (!in->active[w] || (cot_wide)before(m, t, w) * v->den <= (cot_wide)v->num * promised(m, w)) continue;
            in->active[w] = false;
            any = true;
        }
    }
    return any;
}

static int64_t supply_of(const struct cot_maxmin *m, const struct cot_maxmin_task *t, const struct range *r)
{
    int64_t supply = 0;
    for (uint32_t i = 0; i < r->batches; i++) supply += t->supply[m->inside->batch_list[r->batch + i]];
    for (uint32_t i = 0; i < r->nodes; i++) {
        uint32_t n = m->inside->node_list[r->node + i];
        if (!asks(t, n)) supply -= t->has[n];
    }
    return supply;
}

static struct level find_level(const struct cot_maxmin *m, const struct cot_maxmin_task *t, const struct range *r)
{
    struct cot_maxmin_inside *in = m->inside;
    int64_t supply = supply_of(m, t, r);
    struct level v;
    for (uint32_t i = 0; i < r->nodes; i++) {
        uint32_t n = in->node_list[r->node + i], line = n / 2;
        for (uint32_t k = in->wish_first[line]; asks(t, n) && k < in->wish_first[line + 1]; k++) {
            uint32_t w = in->wish_of[k];
            in->active[w] = !t->passed[w] && before(m, t, w) < promised(m, w);
        }
    }
    do v = level_of(m, t, r, supply);
    while (v.den > 0 && leave_out(m, t, r, &v));
    return v.num >= v.den ? (struct level){1, 1} : v;
}

/* What each node wants and each batch has at the level, in units of 1 / denominator. */
static void set_wants(const struct cot_maxmin *m, const struct cot_maxmin_task *t, const struct range *r,
                      const struct level *v)
{
    struct cot_maxmin_inside *in = m->inside;
    for (uint32_t i = 0; i < r->batches; i++) {
        uint32_t b = in->batch_list[r->batch + i];
        in->left[b] = (cot_wide)t->supply[b] * v->den;
        in->group_batch[b] = in->group;
    }
    for (uint32_t i = 0; i < r->nodes; i++) {
        uint32_t n = in->node_list[r->node + i], line = n / 2;
        in->group_node[n] = in->group;
        in->want[n] = asks(t, n) ? 0 : (cot_wide)t->has[n] * v->den;
        for (uint32_t k = in->wish_first[line]; asks(t, n) && k < in->wish_first[line + 1]; k++) {
            uint32_t w = in->wish_of[k];
            if (in->active[w]) in->want[n] += (cot_wide)v->num * promised(m, w) - (cot_wide)v->den * before(m, t, w);
        }
    }
}

/* Moves those that the last layers reached to the front; returns how many. Keeps the order of both kinds. */
static uint32_t split(uint32_t *list, uint32_t n, const int32_t *at, uint32_t *spill)
{
    uint32_t front = 0, back = 0;
    for (uint32_t i = 0; i < n; i++) {
        if (at[list[i]] != NOWHERE) list[front++] = list[i];
        else spill[back++] = list[i];
    }
    if (back > 0) memcpy(list + front, spill, back * sizeof *list);
    return front;
}

static void keep_level(const struct cot_maxmin *m, const struct cot_maxmin_task *t, const struct range *r,
                       const struct level *v, struct cot_portion *part)
{
    struct cot_maxmin_inside *in = m->inside;
    for (uint32_t i = 0; i < r->nodes; i++) {
        uint32_t n = in->node_list[r->node + i], line = n / 2;
        for (uint32_t k = in->wish_first[line]; asks(t, n) && k < in->wish_first[line + 1]; k++) {
            uint32_t w = in->wish_of[k];
            part[w].num = in->active[w] ? v->num : before(m, t, w);
            part[w].den = in->active[w] ? v->den : promised(m, w);
        }
    }
}

void cot_maxmin(const struct cot_maxmin *m, const struct cot_maxmin_task *t, struct cot_portion *part)
{
    struct cot_maxmin_inside *in = m->inside;
    struct range all = {0};
    uint32_t unsolved = 0;
    for (uint32_t n = 0; n < 2 * m->net->lines; n++)
        if (t->node[n]) in->node_list[all.nodes++] = n;
    for (uint32_t b = 0; b < m->net->batches; b++)
        if (t->batch[b]) in->batch_list[all.batches++] = b;
    if (all.nodes > 0) in->unsolved[unsolved++] = all;
    while (unsolved > 0) {
        struct range r = in->unsolved[--unsolved];
        struct level v = find_level(m, t, &r);
        in->group++;
        set_wants(m, t, &r, &v);
        if (carry(m, &r)) {
            keep_level(m, t, &r, &v, part);
            continue;
        }
        uint32_t nodes = split(in->node_list + r.node, r.nodes, in->node_at, in->spill);
        uint32_t batches = split(in->batch_list + r.batch, r.batches, in->batch_at, in->spill);
        if (nodes < r.nodes)
            in->unsolved[unsolved++] =
                (struct range){r.node + nodes, r.nodes - nodes, r.batch + batches, r.batches - batches};
        in->unsolved[unsolved++] = (struct range){r.node, nodes, r.batch, batches};
    }
}
