/* Sharing by queue, and what all rules have in common: two passes, the least worth having, units made whole. */
#include "fill/share.h"

#include <stdlib.h>
#include <string.h>

#include "fill/share_inside.h"

void cot_sharing_free(struct cot_sharing *s)
{
    struct cot_sharing_inside *in = s->inside;
    if (!in) return;
    cot_maxmin_free(&in->maxmin);
    free(in->got);
    free(in->pass_got);
    free(in->unmet);
    free(in->passed);
    free(in->rank);
    free(in->by_rank);
    free(in->node_in);
    free(in->batch_in);
    free(in->node_has);
    free(in->part);
    free(in->sorted);
    free(in);
    s->inside = NULL;
}

static bool reserve(const struct cot_sharing *s, struct cot_sharing_inside *in)
{
    size_t wishes = (size_t)s->wishes + 1, nodes = 2 * (size_t)s->net.lines + 1;
    in->got = calloc(wishes, sizeof *in->got);
    in->pass_got = calloc(wishes, sizeof *in->pass_got);
    in->unmet = calloc(s->claims + 1, sizeof *in->unmet);
    in->passed = calloc(wishes, sizeof *in->passed);
    in->rank = calloc(wishes, sizeof *in->rank);
    in->by_rank = calloc(wishes, sizeof *in->by_rank);
    if (!in->got || !in->pass_got || !in->unmet || !in->passed || !in->rank || !in->by_rank) return false;
    if (s->rule != COT_SHARE_PRORATA) return true;
    in->node_in = calloc(nodes, sizeof *in->node_in);
    in->batch_in = calloc((size_t)s->net.batches + 1, sizeof *in->batch_in);
    in->node_has = calloc(nodes, sizeof *in->node_has);
    in->part = calloc(wishes, sizeof *in->part);
    in->sorted = calloc(wishes, sizeof *in->sorted);
    return in->node_in && in->batch_in && in->node_has && in->part && in->sorted &&
           cot_maxmin_start(&in->maxmin, &s->net, s->wish, s->wishes) == COT_OK;
}

enum cot_err cot_sharing_start(struct cot_sharing *s)
{
    struct cot_sharing_inside *in = s->inside = calloc(1, sizeof *s->inside);
    if (!in || !reserve(s, in)) return COT_MEMORY;
    for (uint32_t w = 0; w < s->wishes; w++) {
        in->rank[w] = UINT32_MAX;
        in->any_least = in->any_least || s->wish[w].least > 0;
        in->any_unit = in->any_unit || s->wish[w].unit > 1;
    }
    for (size_t c = 0; c < s->claims; c++) {
        uint32_t w = s->claim[c].wish;
        if (in->rank[w] != UINT32_MAX) continue;
        in->rank[w] = in->ranked;
        in->by_rank[in->ranked++] = w;
    }
    for (size_t e = 0; e < s->net.edges; e++) in->any_spare = in->any_spare || s->net.edge[e].spare;
    return COT_OK;
}

/* A claim that was not met in full leaves its wish with whole units, and with no less than earlier claims brought. */
static int64_t cut_to_unit(const struct cot_sharing *s, uint32_t node, uint32_t w, int64_t before)
{
    int64_t has = s->inside->pass_got[w], unit = s->wish[w].unit, keep = has - has % unit;
    if (keep < before) keep = before;
    if (keep < has) cot_net_return(&s->net, node, has - keep);
    return keep;
}

void cot_share_queue(const struct cot_sharing *s, uint32_t spare)
{
    struct cot_sharing_inside *in = s->inside;
    const size_t *node_first = cot_net_node(&s->net);
    for (size_t c = 0; c < s->claims; c++) {
        uint32_t w = s->claim[c].wish, node = 2 * s->wish[w].line + spare;
        if (in->unmet[c] == 0 || in->passed[w] || node_first[node] == node_first[node + 1]) continue;
        int64_t before = in->pass_got[w], got = cot_net_give(&s->net, node, in->unmet[c]);
        in->pass_got[w] += got;
        if (got < in->unmet[c] && s->wish[w].unit > 1) in->pass_got[w] = cut_to_unit(s, node, w, before);
        in->unmet[c] -= in->pass_got[w] - before;
    }
}

static void share_once(const struct cot_sharing *s, const int64_t *supply)
{
    struct cot_sharing_inside *in = s->inside;
    void (*pass)(const struct cot_sharing *, uint32_t) =
        s->rule == COT_SHARE_PRORATA ? cot_share_prorata : cot_share_queue;
    cot_net_begin(&s->net, supply);
    memset(in->got, 0, s->wishes * sizeof *in->got);
    for (size_t c = 0; c < s->claims; c++) in->unmet[c] = s->claim[c].plants;
    for (uint32_t spare = 0; spare <= in->any_spare; spare++) {
        memset(in->pass_got, 0, s->wishes * sizeof *in->pass_got);
        pass(s, spare);
        for (uint32_t w = 0; w < s->wishes; w++) in->got[w] += in->pass_got[w];
    }
}

/* The wish that has something, but less than its least: under pro rata the latest, else the earliest in the queue.
 * False when there is none. */
static bool pass_over_one(const struct cot_sharing *s)
{
    struct cot_sharing_inside *in = s->inside;
    for (uint32_t i = 0; i < in->ranked; i++) {
        uint32_t w = in->by_rank[s->rule == COT_SHARE_PRORATA ? in->ranked - 1 - i : i];
        if (in->got[w] == 0 || s->wish[w].handed + in->got[w] >= s->wish[w].least) continue;
        return in->passed[w] = true;
    }
    return false;
}

void cot_share(const struct cot_sharing *s, const int64_t *supply)
{
    struct cot_sharing_inside *in = s->inside;
    memset(in->passed, 0, s->wishes * sizeof *in->passed);
    do share_once(s, supply);
    while (in->any_least && pass_over_one(s));
}

const int64_t *cot_share_got(const struct cot_sharing *s)
{
    return s->inside->got;
}

const bool *cot_share_passed(const struct cot_sharing *s)
{
    return s->inside->passed;
}

/* Makes the wish's last unit whole from batches that serve it already, if they have enough. Its line of the net is its
 * own here. */
static void make_whole(const struct cot_sharing *s, uint32_t w, int64_t *left, int64_t *extra)
{
    const size_t *node_first = cot_net_node(&s->net);
    const int64_t *flow = cot_net_flow(&s->net);
    size_t first = node_first[2 * s->wish[w].line], end = node_first[2 * s->wish[w].line + 2];
    int64_t unit = s->wish[w].unit, lack = (unit - s->inside->got[w] % unit) % unit, there = 0;
    for (size_t e = first; e < end; e++)
        if (flow[e] > 0) there += left[s->net.edge[e].batch];
    for (size_t e = first; e < end && there >= lack && lack > 0; e++) {
        int64_t *has = &left[s->net.edge[e].batch], take = lack < *has ? lack : *has;
        if (flow[e] == 0) continue;
        extra[e] = take;
        *has -= take;
        lack -= take;
    }
}

void cot_share_extra(const struct cot_sharing *s, int64_t *left, int64_t *extra)
{
    memset(extra, 0, s->net.edges * sizeof *extra);
    memcpy(left, cot_net_left(&s->net), s->net.batches * sizeof *left);
    for (uint32_t i = 0; i < s->inside->ranked; i++) make_whole(s, s->inside->by_rank[i], left, extra);
}
