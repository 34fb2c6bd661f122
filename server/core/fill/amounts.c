/* Giving on small nets: a search goes over sets of batches and nodes as bits of a word. */
#include "fill/amounts.h"

#include <stdlib.h>
#include <string.h>

#define SMALL 64
#define NOBODY UINT8_MAX
#define BIT(i) (UINT64_C(1) << (i))

/* Nodes that may have something are rows; batches stand at places, those that few rows may have first, so that
 * exchanges are seldom needed. */
struct cot_amounts_inside {
    uint32_t rows, batches;
    uint8_t *row;            /* per node: NOBODY if it may have nothing */
    uint8_t batch_at[SMALL]; /* per place */
    uint64_t may[SMALL];     /* per row: places */
    uint64_t holders[SMALL]; /* per place: rows that have plants of it */
    int64_t *flow;           /* [row * batches + place] */
    int64_t left[SMALL];     /* per place */
    uint64_t there;          /* places with plants left */
    uint64_t dead;           /* places that no search need go to: see flow.c */
    uint64_t touched;        /* rows that are not as in `base` */
    const struct cot_given *base;
    uint8_t come[SMALL]; /* of a search, per place: row that would have plants of it ... */
    uint8_t by[SMALL];   /* ... per row: in place of those of this place */
};

static uint32_t first_bit(uint64_t set)
{
    return (uint32_t)__builtin_ctzll(set);
}

void cot_amounts_free(struct cot_amounts *a)
{
    if (!a->small) return;
    free(a->small->row);
    free(a->small->flow);
    free(a->small);
    a->small = NULL;
}

static void place_batches(const struct cot_net *net, struct cot_amounts_inside *in, uint8_t place[static SMALL])
{
    const size_t *first;
    uint32_t at = 0;
    (void)cot_net_edges_of(net, &first);
    for (size_t edges = 0; at < net->batches; edges++)
        for (uint32_t b = 0; b < net->batches; b++)
            if (first[b + 1] - first[b] == edges) in->batch_at[place[b] = (uint8_t)at++] = (uint8_t)b;
}

enum cot_err cot_amounts_start(struct cot_amounts *a, const struct cot_net *net)
{
    const size_t *node = cot_net_node(net);
    uint8_t place[SMALL];
    uint32_t rows = 0;
    *a = (struct cot_amounts){.net = net};
    for (uint32_t n = 0; n < 2 * net->lines; n++) rows += node[n] < node[n + 1];
    if (rows > SMALL || net->batches > SMALL) return COT_OK;
    struct cot_amounts_inside *in = a->small = calloc(1, sizeof *in);
    if (!in) return COT_MEMORY;
    in->batches = net->batches;
    in->row = malloc(2 * (size_t)net->lines + 1);
    in->flow = calloc((size_t)rows * net->batches + 1, sizeof *in->flow);
    if (!in->row || !in->flow) return COT_MEMORY;
    place_batches(net, in, place);
    for (uint32_t n = 0; n < 2 * net->lines; n++) {
        in->row[n] = NOBODY;
        if (node[n] == node[n + 1]) continue;
        in->row[n] = (uint8_t)in->rows;
        for (size_t e = node[n]; e < node[n + 1]; e++) in->may[in->rows] |= BIT(place[net->edge[e].batch]);
        in->rows++;
    }
    return COT_OK;
}

/* --- Keeping ------------------------------------------------------------------------------------------------------ */

enum cot_err cot_given_start(struct cot_given *k, const struct cot_amounts *a)
{
    const struct cot_amounts_inside *in = a->small;
    size_t batches = (size_t)a->net->batches + 1, flows = in ? (size_t)in->rows * in->batches : a->net->edges;
    k->flow = calloc(flows + 1, sizeof *k->flow);
    k->of = calloc(batches, sizeof *k->of);
    k->holders = calloc(batches, sizeof *k->holders);
    return k->flow && k->of && k->holders ? COT_OK : COT_MEMORY;
}

void cot_given_free(struct cot_given *k)
{
    free(k->flow);
    free(k->of);
    free(k->holders);
    *k = (struct cot_given){0};
}

void cot_amounts_keep(const struct cot_amounts *a, struct cot_given *k)
{
    struct cot_amounts_inside *in = a->small;
    if (!in) {
        cot_net_keep(a->net, k->flow, k->of);
        return;
    }
    memcpy(k->flow, in->flow, (size_t)in->rows * in->batches * sizeof *k->flow);
    memcpy(k->holders, in->holders, in->batches * sizeof *k->holders);
    memset(k->of, 0, in->batches * sizeof *k->of);
    for (uint32_t r = 0; r < in->rows; r++)
        for (uint32_t p = 0; p < in->batches; p++) k->of[p] += in->flow[(size_t)r * in->batches + p];
    in->base = k;
    in->touched = 0;
}

void cot_amounts_resume(const struct cot_amounts *a, const struct cot_given *k, const int64_t *supply)
{
    struct cot_amounts_inside *in = a->small;
    if (!in) {
        cot_net_resume(a->net, k->flow, k->of, supply);
        return;
    }
    if (in->base != k) memcpy(in->flow, k->flow, (size_t)in->rows * in->batches * sizeof *in->flow);
    for (uint64_t set = in->base == k ? in->touched : 0; set; set &= set - 1) {
        size_t at = (size_t)first_bit(set) * in->batches;
        memcpy(in->flow + at, k->flow + at, in->batches * sizeof *in->flow);
    }
    in->there = in->dead = in->touched = 0;
    in->base = k;
    for (uint32_t p = 0; p < in->batches; p++) {
        in->holders[p] = k->holders[p];
        in->left[p] = supply[in->batch_at[p]] - k->of[p];
        in->there |= in->left[p] > 0 ? BIT(p) : 0;
    }
}

/* --- Giving ------------------------------------------------------------------------------------------------------- */

static inline void take_left(struct cot_amounts_inside *in, uint32_t place, int64_t plants)
{
    in->left[place] -= plants;
    in->there ^= in->left[place] == 0 ? BIT(place) : 0;
}

static inline void give_more(struct cot_amounts_inside *in, uint32_t row, uint32_t place, int64_t plants)
{
    in->flow[(size_t)row * in->batches + place] += plants;
    in->holders[place] |= BIT(row);
    in->touched |= BIT(row);
}

static inline void give_less(struct cot_amounts_inside *in, uint32_t row, uint32_t place, int64_t plants)
{
    int64_t *flow = &in->flow[(size_t)row * in->batches + place];
    *flow -= plants;
    in->holders[place] ^= *flow == 0 ? BIT(row) : 0;
}

/* Moves plants along the chain by which the search came to `place`; returns how many reached the row that asks. */
static int64_t exchange(struct cot_amounts_inside *in, uint32_t row, uint32_t place, int64_t need)
{
    uint64_t own = in->may[row];
    int64_t move = need < in->left[place] ? need : in->left[place];
    for (uint32_t p = place; !(own & BIT(p));) {
        uint32_t r = in->come[p];
        int64_t flow = in->flow[(size_t)r * in->batches + (p = in->by[r])];
        if (flow < move) move = flow;
    }
    if (move == 0) return 0; /* a chain before it took what this one would exchange */
    take_left(in, place, move);
    for (uint32_t p = place; !(own & BIT(p));) {
        uint32_t r = in->come[p];
        give_more(in, r, p, move);
        give_less(in, r, p = in->by[r], move);
        place = p;
    }
    give_more(in, row, place, move);
    return move;
}

/* One search, layer by layer: every place with plants left in the first layer that has one gives what its chain can
 * carry. Returns how many plants reached the row; 0: nothing can. */
static int64_t search(struct cot_amounts_inside *in, uint32_t row, int64_t need)
{
    uint64_t reached = in->may[row] & ~in->dead, asked = BIT(row), layer = reached, next;
    while (layer && !(layer & in->there)) {
        for (next = 0; layer; layer &= layer - 1) {
            uint32_t place = first_bit(layer);
            uint64_t rows = in->holders[place] & ~asked;
            asked |= rows;
            for (; rows; rows &= rows - 1) {
                uint32_t r = first_bit(rows);
                uint64_t fresh = in->may[r] & ~reached & ~in->dead;
                in->by[r] = (uint8_t)place;
                reached |= fresh;
                next |= fresh;
                for (; fresh; fresh &= fresh - 1) in->come[first_bit(fresh)] = (uint8_t)r;
            }
        }
        layer = next;
    }
    if (!layer) in->dead |= reached;
    int64_t got = 0;
    for (uint64_t set = layer & in->there; set && got < need; set &= set - 1)
        got += exchange(in, row, first_bit(set), need - got);
    return got;
}

/* Returns what could not be given. */
static inline int64_t give(struct cot_amounts_inside *in, uint32_t row, int64_t need)
{
    if (row == NOBODY) return need;
    for (uint64_t set = in->may[row] & in->there; set && need > 0; set &= set - 1) {
        uint32_t place = first_bit(set);
        int64_t take = need < in->left[place] ? need : in->left[place];
        take_left(in, place, take);
        give_more(in, row, place, take);
        need -= take;
    }
    while (need > 0 && (in->there & ~in->dead) && (in->may[row] & ~in->dead)) {
        int64_t got = search(in, row, need);
        if (got == 0) break;
        need -= got;
    }
    return need;
}

int64_t cot_amounts_give(const struct cot_amounts *a, uint32_t node, int64_t want)
{
    struct cot_amounts_inside *in = a->small;
    return in ? want - give(in, in->row[node], want) : cot_net_give(a->net, node, want);
}

void cot_amounts_give_all(const struct cot_amounts *a, struct cot_ask *ask, size_t asks)
{
    struct cot_amounts_inside *in = a->small;
    for (size_t i = 0; !in && i < asks; i++)
        if (ask[i].want > 0) ask[i].want -= cot_net_give(a->net, ask[i].node, ask[i].want);
    for (size_t i = 0; in && i < asks && (in->there & ~in->dead); i++)
        ask[i].want = give(in, in->row[ask[i].node], ask[i].want);
}
