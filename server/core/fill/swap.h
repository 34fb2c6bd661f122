/* Which batch serves whom, once it is settled how much each has: fewer pieces, so that fewer trays are split.
 *
 * A piece is what one node gets of one batch. Two nodes that both may have two batches alike can change places in them:
 * nobody has more or less, and no batch gives more or less (so no older plants are left for younger ones). That is done
 * as long as it makes pieces fewer. The fewest of all ways would be a packing problem (NP-hard); no exchange of two
 * nodes and two batches improves on what is left. Whole units stay whole. */
#ifndef COT_CORE_FILL_SWAP_H
#define COT_CORE_FILL_SWAP_H

#include "fill/flow.h"

struct cot_swap {
    const struct cot_net *net;
    const uint32_t *alike; /* per edge: edges of a node with the same figure are equally good for it */
    const int64_t *unit;   /* per line of the net, at least 1 */
    int64_t *flow;         /* per edge; changed */
};
/* Returns by how many pieces there are fewer. */
size_t cot_swaps(const struct cot_swap *t);

#endif
