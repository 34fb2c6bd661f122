/* What the rules of sharing keep while they work. */
#ifndef COT_CORE_FILL_SHARE_INSIDE_H
#define COT_CORE_FILL_SHARE_INSIDE_H

#include "fill/maxmin.h"
#include "fill/share.h"

struct cot_sharing_inside {
    int64_t *got;      /* per wish, both passes */
    int64_t *pass_got; /* per wish, this pass */
    int64_t *unmet;    /* per claim */
    bool *passed;      /* per wish */
    uint32_t *rank;    /* per wish: place of its first claim among those of others */
    uint32_t *by_rank; /* wishes that have claims, in order of rank */
    uint32_t ranked;
    bool any_spare, any_least, any_unit;
    /* prorata only */
    struct cot_maxmin maxmin;
    bool *node_in, *batch_in;   /* per node, per batch: short together */
    int64_t *node_has;          /* per node, both passes */
    struct cot_portion *part;   /* per wish */
    struct cot_portion *sorted; /* those short together, in the order in which left-over units go out */
};

void cot_share_queue(const struct cot_sharing *s, uint32_t spare);
void cot_share_prorata(const struct cot_sharing *s, uint32_t spare);

#endif
