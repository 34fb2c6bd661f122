/* Giving supply out where only matters how much each node gets, not from which batch. As cot_net_give does it, many
 * times faster on nets of at most 64 batches and 64 nodes that may have anything, whose sets are bits of one word;
 * others are left to the net. */
#ifndef COT_CORE_FILL_AMOUNTS_H
#define COT_CORE_FILL_AMOUNTS_H

#include "fill/flow.h"

/* What is given at one time. */
struct cot_given {
    int64_t *flow;     /* per edge; of a small net [row * batches + place] */
    int64_t *of;       /* per batch: sum of its flows */
    uint64_t *holders; /* of a small net, per place: rows that have plants of it */
};

struct cot_amounts {
    const struct cot_net *net;        /* started; the caller's */
    struct cot_amounts_inside *small; /* NULL: the net is not small */
};
/* MEMORY. Free in any case. */
COT_MUSTCHECK enum cot_err cot_amounts_start(struct cot_amounts *a, const struct cot_net *net);
void cot_amounts_free(struct cot_amounts *a);
/* A kept state in which nothing is given. MEMORY. Free in any case. */
COT_MUSTCHECK enum cot_err cot_given_start(struct cot_given *k, const struct cot_amounts *a);
void cot_given_free(struct cot_given *k);

void cot_amounts_keep(const struct cot_amounts *a, struct cot_given *k);
/* Begins with what was kept, and a supply (one figure a batch) that has at least that of every batch. */
void cot_amounts_resume(const struct cot_amounts *a, const struct cot_given *k, const int64_t *supply);
/* As cot_net_give. */
int64_t cot_amounts_give(const struct cot_amounts *a, uint32_t node, int64_t want);
/* Gives to many, in this order; what each did not get stays wanted. */
struct cot_ask {
    uint32_t node, wish; /* `wish` is the caller's */
    int64_t want;        /* at least 0 */
};
void cot_amounts_give_all(const struct cot_amounts *a, struct cot_ask *ask, size_t asks);

#endif
