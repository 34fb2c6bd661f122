/* The rules of sharing, on plain arrays. What they say is in cotyledger/core/fill.h. */
#ifndef COT_CORE_FILL_SHARE_H
#define COT_CORE_FILL_SHARE_H

#include "cotyledger/core/fill.h"
#include "fill/flow.h"

struct cot_wish {   /* what a line still wants */
    uint32_t line;  /* of the net: several wishes may be one line there */
    int64_t need;   /* promised and still to be handed over: the sum of its claims, at least 0 */
    int64_t handed; /* of what was promised: its filled part is (handed + got) / (handed + need) */
    int64_t unit;   /* hand-over unit, plants, at least 1 */
    int64_t least;  /* of handed + got that is worth having, at most handed + need; 0: any */
};
struct cot_claim {
    uint32_t wish;
    int64_t plants; /* above 0 */
};

/* Wishes whose need is 0 take no part. Claims stand in queue order (under `priority`: by priority, then queue). All
 * arrays are the caller's; `net` is started. Figures up to 10^13 plants in all. */
struct cot_sharing {
    struct cot_net net;
    enum cot_share_rule rule;
    uint32_t wishes;
    size_t claims;
    const struct cot_wish *wish;
    const struct cot_claim *claim;
    struct cot_sharing_inside *inside;
};
/* MEMORY. Free in any case; the net is the caller's to free. */
COT_MUSTCHECK enum cot_err cot_sharing_start(struct cot_sharing *s);
void cot_sharing_free(struct cot_sharing *s);

/* Shares `supply` (one figure a batch of the net) out; what lies on each edge is then cot_net_flow(&s->net). */
void cot_share(const struct cot_sharing *s, const int64_t *supply);
const int64_t *cot_share_got(const struct cot_sharing *s); /* per wish */
const bool *cot_share_passed(const struct cot_sharing *s); /* per wish: passed over for its least */
/* Makes last units whole from what is left: extra[e] plants more on edge e, left[b] plants of batch b then nobody's.
 * Each wish must have a line of the net to itself. */
void cot_share_extra(const struct cot_sharing *s, int64_t *left, int64_t *extra);

#endif
