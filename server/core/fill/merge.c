/* Merging batches and lines that cannot be told apart by what they may serve or have. */
#include "fill/merge.h"

#include <stdlib.h>

/* One node (a batch, or a line) with the other ends of its edges: 2 * node + spare, rising. */
struct node {
    uint32_t number; /* in the whole net */
    uint32_t merged; /* in the small one */
    const uint32_t *end;
    size_t ends;
};

static int u32_cmp(const void *x, const void *y)
{
    uint32_t a = *(const uint32_t *)x, b = *(const uint32_t *)y;
    return a < b ? -1 : a > b;
}

static int ends_cmp(const struct node *a, const struct node *b)
{
    if (a->ends != b->ends) return a->ends < b->ends ? -1 : 1;
    for (size_t i = 0; i < a->ends; i++)
        if (a->end[i] != b->end[i]) return a->end[i] < b->end[i] ? -1 : 1;
    return 0;
}

static int node_cmp(const void *x, const void *y)
{
    const struct node *a = x, *b = y;
    int c = ends_cmp(a, b);
    return c != 0 ? c : a->number < b->number ? -1 : a->number > b->number;
}

/* Lists the other ends of each node's edges. `edges`: the node's own number first in `from`, the other end's in `to`.
 */
static void list_ends(struct node *node, uint32_t nodes, const uint32_t *from, const uint32_t *to, size_t edges,
                      uint32_t *end)
{
    for (uint32_t i = 0; i < nodes; i++) node[i] = (struct node){.number = i};
    for (size_t e = 0; e < edges; e++) node[from[e]].ends++;
    size_t at = 0;
    for (uint32_t i = 0; i < nodes; i++) {
        node[i].end = end + at;
        at += node[i].ends;
        node[i].ends = 0;
    }
    for (size_t e = 0; e < edges; e++) {
        struct node *n = &node[from[e]];
        end[(size_t)(n->end - end) + n->ends++] = to[e];
    }
    for (uint32_t i = 0; i < nodes; i++)
        if (node[i].ends > 1) qsort(end + (node[i].end - end), node[i].ends, sizeof *end, u32_cmp);
}

/* Numbers nodes of equal ends alike; those without ends are numbered too. Returns how many numbers there are. */
static uint32_t number_alike(struct node *node, uint32_t nodes, uint32_t *merged)
{
    uint32_t n = 0;
    if (nodes > 1) qsort(node, nodes, sizeof *node, node_cmp);
    for (uint32_t i = 0; i < nodes; i++) {
        if (i > 0 && ends_cmp(&node[i - 1], &node[i]) != 0) n++;
        merged[node[i].number] = n;
    }
    return nodes ? n + 1 : 0;
}

/* Edges between merged nodes, each once: sorted by line, those of the second pass last, batches that few lines may have
 * first, so that exchanges are seldom needed. */
struct wide_edge {
    struct cot_edge edge;
    uint32_t contest; /* lines that may have the batch */
};

static int wide_cmp(const void *x, const void *y)
{
    const struct wide_edge *a = x, *b = y;
    if (a->edge.line != b->edge.line) return a->edge.line < b->edge.line ? -1 : 1;
    if (a->edge.spare != b->edge.spare) return a->edge.spare ? 1 : -1;
    if (a->contest != b->contest) return a->contest < b->contest ? -1 : 1;
    return a->edge.batch < b->edge.batch ? -1 : a->edge.batch > b->edge.batch;
}

static size_t unite_edges(struct wide_edge *w, size_t n, struct cot_edge *out)
{
    size_t kept = 0;
    if (n > 1) qsort(w, n, sizeof *w, wide_cmp);
    for (size_t i = 0; i < n; i++)
        if (i == 0 || wide_cmp(&w[i - 1], &w[i]) != 0) out[kept++] = w[i].edge;
    return kept;
}

/* Scratch of one merging. */
struct scratch {
    uint32_t *line, *batch, *end, *from, *to, *lines_of;
    struct node *node;
    struct wide_edge *wide;
    const bool *asks; /* the caller's */
};

static void scratch_free(struct scratch *s)
{
    free(s->line);
    free(s->batch);
    free(s->end);
    free(s->from);
    free(s->to);
    free(s->lines_of);
    free(s->node);
    free(s->wide);
}

static bool reserve(const struct cot_net *w, struct scratch *s, struct cot_merged *out)
{
    size_t nodes = (size_t)(w->lines > w->batches ? w->lines : w->batches) + 1, edges = w->edges + 1;
    s->line = calloc((size_t)w->lines + 1, sizeof *s->line);
    s->batch = calloc((size_t)w->batches + 1, sizeof *s->batch);
    s->end = calloc(edges, sizeof *s->end);
    s->from = calloc(edges, sizeof *s->from);
    s->to = calloc(edges, sizeof *s->to);
    s->lines_of = calloc((size_t)w->batches + 1, sizeof *s->lines_of);
    s->node = calloc(nodes, sizeof *s->node);
    s->wide = calloc(edges, sizeof *s->wide);
    out->edge = calloc(edges, sizeof *out->edge);
    return s->line && s->batch && s->end && s->from && s->to && s->lines_of && s->node && s->wide && out->edge;
}

static size_t merge_edges(const struct cot_net *w, struct scratch *s, struct cot_merged *out)
{
    size_t n = 0;
    /* Batches that the same lines may have; lines that ask for nothing do not count. */
    for (size_t e = 0; e < w->edges; e++) {
        if (!s->asks[w->edge[e].line]) continue;
        s->from[n] = w->edge[e].batch;
        s->to[n++] = 2 * w->edge[e].line + w->edge[e].spare;
    }
    list_ends(s->node, w->batches, s->from, s->to, n, s->end);
    out->net.batches = number_alike(s->node, w->batches, s->batch);
    /* Then lines that may have the same of those. Several edges may have become one. */
    size_t edges = n;
    n = 0;
    for (size_t e = 0; e < w->edges; e++) {
        if (!s->asks[w->edge[e].line]) continue;
        s->wide[n++].edge = (struct cot_edge){w->edge[e].line, s->batch[w->edge[e].batch], w->edge[e].spare};
    }
    n = unite_edges(s->wide, edges, out->edge);
    for (size_t e = 0; e < n; e++) {
        s->from[e] = out->edge[e].line;
        s->to[e] = 2 * out->edge[e].batch + out->edge[e].spare;
        s->lines_of[out->edge[e].batch]++;
    }
    list_ends(s->node, w->lines, s->from, s->to, n, s->end);
    out->net.lines = number_alike(s->node, w->lines, s->line);
    for (size_t e = 0; e < n; e++)
        s->wide[e] = (struct wide_edge){{s->line[out->edge[e].line], out->edge[e].batch, out->edge[e].spare},
                                        s->lines_of[out->edge[e].batch]};
    return unite_edges(s->wide, n, out->edge);
}

enum cot_err cot_merge(const struct cot_net *whole, const bool *asks, struct cot_merged *out)
{
    struct scratch s = {.asks = asks};
    enum cot_err err = COT_MEMORY;
    *out = (struct cot_merged){0};
    if (!reserve(whole, &s, out)) goto out;
    out->net.edges = merge_edges(whole, &s, out);
    out->net.edge = out->edge;
    out->batch_of = s.batch;
    out->line_of = s.line;
    s.batch = s.line = NULL;
    err = cot_net_start(&out->net);
out:
    scratch_free(&s);
    return err;
}

void cot_merged_free(struct cot_merged *m)
{
    cot_net_free(&m->net);
    free(m->batch_of);
    free(m->line_of);
    free(m->edge);
    *m = (struct cot_merged){0};
}
