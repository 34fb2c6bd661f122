/* One component on its own: batches that lines tie together, those lines, and all the supplies that the batches may
 * have. Made by chance.c, shared out by walk.c. */
#ifndef COT_CORE_FILL_PIECE_H
#define COT_CORE_FILL_PIECE_H

#include "fill/chance.h"
#include "fill/merge.h"

/* What a wish gets, so long as it is more than nothing: `plants` at the points low .. high - 1. */
struct cot_spell {
    int64_t plants;
    uint32_t low, high;
    uint32_t wish;
};
#define COT_NO_SPELL UINT32_MAX

struct cot_piece {
    const struct cot_chance_task *task;
    uint32_t wishes, batches;
    size_t claims, edges;
    uint32_t *wish_at, *batch_at; /* of the whole */
    struct cot_net net;
    struct cot_edge *edge;
    bool *serves;          /* per edge: it has plants as the whole is shared out */
    struct cot_wish *wish; /* on lines of the merged net */
    struct cot_claim *claim;
    struct cot_merged merged;
    struct cot_sharing sharing;
    /* Points: supplies to share out. cot_walk puts them into an order of its own, but leaves points of other weights
     * than 1 in theirs. */
    uint32_t points;
    int64_t *supply;   /* [origin * (merged batches + 1) + merged batch]; after those of all batches their sum */
    uint32_t *origin;  /* per point: its number before cot_walk */
    uint32_t *heavier; /* points + 1: sum of the weights before each point */
    /* What cot_walk finds. */
    struct cot_spell *spell; /* of a wish, in order of points; those of wishes lie among each other */
    size_t spells, room;
    uint32_t *last; /* per wish: its latest spell; COT_NO_SPELL: none */
    size_t *first;  /* wishes + 1, once spells are put together: a wish's are first[w] .. first[w + 1] - 1 */
};

/* Shares every point's supply out. MEMORY. */
COT_MUSTCHECK enum cot_err cot_walk(struct cot_piece *p);

#endif
