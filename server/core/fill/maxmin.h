/* The lexicographic max-min of filled parts over a net, in exact rationals.
 *
 * Level of a set of lines: the part t to which all of it could be filled from what its batches have together, were each
 * of them for each line. If the net carries that, it is the answer for the set. If not, the lines and batches of a
 * smallest cut have a lower level and nothing to do with the others: both are solved on their own (the decomposition of
 * Fujishige 1980, Math. Oper. Res. 5:186-196, and Groenevelt 1991, EJOR 54:227-236, both from memory). Flows are whole
 * numbers in units of 1 / denominator, in 128 bits; each is found by layers (Dinic 1970, from memory). */
#ifndef COT_CORE_FILL_MAXMIN_H
#define COT_CORE_FILL_MAXMIN_H

#include "fill/flow.h"

__extension__ typedef __int128 cot_wide;

struct cot_wish;
struct cot_portion {     /* of a wish */
    int64_t num, den;    /* filled to num / den of what was promised */
    int64_t plants;      /* of its share: whole hand-over units */
    cot_wide rest, unit; /* what was cut off as part of a unit: rest / unit */
    uint32_t wish, rank;
};

/* What is to be shared: some nodes and batches of the net, that have nothing to do with the others. */
struct cot_maxmin_task {
    const bool *node, *batch; /* which */
    uint32_t spare;           /* nodes 2 * line + spare ask, by their wishes; the others have what they have */
    const int64_t *supply;    /* per batch */
    const int64_t *has;       /* per node that does not ask: plants it keeps */
    const int64_t *got;       /* per wish: plants before this pass */
    const bool *passed;       /* per wish: asks for nothing */
};

struct cot_maxmin {
    const struct cot_net *net;
    const struct cot_wish *wish;
    uint32_t wishes;
    struct cot_maxmin_inside *inside;
};
/* The net and wishes are the caller's. MEMORY. Free in any case. */
COT_MUSTCHECK enum cot_err cot_maxmin_start(struct cot_maxmin *m, const struct cot_net *net,
                                            const struct cot_wish *wish, uint32_t wishes);
void cot_maxmin_free(struct cot_maxmin *m);
/* Fills part[w].num and .den for the wishes that ask; others stay as they were. */
void cot_maxmin(const struct cot_maxmin *m, const struct cot_maxmin_task *t, struct cot_portion *part);

#endif
