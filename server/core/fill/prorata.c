/* Sharing pro rata: exact levels, rounded down to units, and the units left over. */
#include <stdlib.h>
#include <string.h>

#include "fill/share_inside.h"

/* Gives everybody all; marks the nodes that could not have it. False when all could. */
static bool try_all(const struct cot_sharing *s, uint32_t spare)
{
    struct cot_sharing_inside *in = s->inside;
    const size_t *node_first = cot_net_node(&s->net);
    bool missing = false;
    memset(in->node_in, 0, 2 * s->net.lines * sizeof *in->node_in);
    for (uint32_t i = 0; i < in->ranked; i++) {
        uint32_t w = in->by_rank[i], node = 2 * s->wish[w].line + spare;
        int64_t want = s->wish[w].need - in->got[w];
        if (in->passed[w] || want == 0 || node_first[node] == node_first[node + 1]) continue;
        in->pass_got[w] = cot_net_give(&s->net, node, want);
        if (in->pass_got[w] < want) missing = in->node_in[node] = true;
    }
    return missing;
}

/* Takes all that the nodes which are short together have back; those that do not ask in this pass get it again when
 * the shares are known. */
static void take_back(const struct cot_sharing *s)
{
    struct cot_sharing_inside *in = s->inside;
    const size_t *node_first = cot_net_node(&s->net);
    const int64_t *flow = cot_net_flow(&s->net);
    for (uint32_t n = 0; n < 2 * s->net.lines; n++) {
        in->node_has[n] = 0;
        if (!in->node_in[n]) continue;
        for (size_t e = node_first[n]; e < node_first[n + 1]; e++) in->node_has[n] += flow[e];
        cot_net_return(&s->net, n, in->node_has[n]);
    }
}

/* Rounds a share down to whole units and keeps what was cut off. */
static void round_down(const struct cot_sharing *s, uint32_t w, struct cot_portion *p)
{
    int64_t promised = s->wish[w].handed + s->wish[w].need, before = s->wish[w].handed + s->inside->got[w];
    cot_wide share = (cot_wide)p->num * promised - (cot_wide)p->den * before; /* times den */
    if (share < 0) share = 0;
    p->plants = (int64_t)(share / p->den);
    if (before + p->plants < promised) p->plants -= p->plants % s->wish[w].unit;
    p->rest = share - (cot_wide)p->plants * p->den;
    p->unit = (cot_wide)p->den * s->wish[w].unit;
}

static int part_cmp(const void *x, const void *y)
{
    const struct cot_portion *a = x, *b = y;
    if (a->num != b->num || a->den != b->den) { /* most are of one level, and of one unit */
        cot_wide level_a = (cot_wide)a->num * b->den, level_b = (cot_wide)b->num * a->den;
        if (level_a != level_b) return level_a < level_b ? -1 : 1;
    }
    bool same = a->unit == b->unit;
    cot_wide rest_a = same ? a->rest : a->rest * b->unit, rest_b = same ? b->rest : b->rest * a->unit;
    if (rest_a != rest_b) return rest_a > rest_b ? -1 : 1;
    return a->rank < b->rank ? -1 : a->rank > b->rank;
}

/* One unit more for the wish, or what completes it; false when that cannot be had. */
static bool one_more(const struct cot_sharing *s, uint32_t w, uint32_t node)
{
    struct cot_sharing_inside *in = s->inside;
    int64_t want = s->wish[w].need - in->got[w] - in->pass_got[w];
    if (want > s->wish[w].unit) want = s->wish[w].unit;
    if (want == 0) return false;
    int64_t got = cot_net_give(&s->net, node, want);
    if (got == want) in->pass_got[w] += got;
    else if (got > 0) cot_net_return(&s->net, node, got);
    return got == want;
}

static int64_t left_over(const struct cot_sharing *s)
{
    const int64_t *left = cot_net_left(&s->net);
    int64_t sum = 0;
    for (uint32_t b = 0; b < s->net.batches; b++) sum += s->inside->batch_in[b] ? left[b] : 0;
    return sum;
}

static void give_left_over(const struct cot_sharing *s, uint32_t spare, uint32_t parts)
{
    struct cot_sharing_inside *in = s->inside;
    bool more = left_over(s) > 0;
    if (more && parts > 1) qsort(in->sorted, parts, sizeof *in->sorted, part_cmp);
    while (more) {
        more = false;
        for (uint32_t i = 0; i < parts; i++) {
            uint32_t w = in->sorted[i].wish;
            if (one_more(s, w, 2 * s->wish[w].line + spare)) more = true;
        }
        more = more && left_over(s) > 0;
    }
}

void cot_share_prorata(const struct cot_sharing *s, uint32_t spare)
{
    struct cot_sharing_inside *in = s->inside;
    uint32_t parts = 0;
    if (!try_all(s, spare)) return;
    memset(in->batch_in, 0, s->net.batches * sizeof *in->batch_in);
    cot_net_reach(&s->net, in->node_in, in->batch_in);
    take_back(s);
    struct cot_maxmin_task task = {in->node_in,  in->batch_in, spare,     cot_net_left(&s->net),
                                   in->node_has, in->got,      in->passed};
    cot_maxmin(&in->maxmin, &task, in->part);
    for (uint32_t n = 0; n < 2 * s->net.lines; n++) {
        int64_t keeps = in->node_in[n] && (n & 1) != spare ? in->node_has[n] : 0;
        if (keeps > 0 && cot_net_give(&s->net, n, keeps) != keeps) return; /* cannot be: they had it before */
    }
    for (uint32_t i = 0; i < in->ranked; i++) {
        uint32_t w = in->by_rank[i], node = 2 * s->wish[w].line + spare;
        if (!in->node_in[node] || in->passed[w] || in->got[w] == s->wish[w].need) continue;
        struct cot_portion p = in->part[w];
        round_down(s, w, &p);
        in->pass_got[w] = cot_net_give(&s->net, node, p.plants);
        p.wish = w;
        p.rank = i;
        in->sorted[parts++] = p;
    }
    give_left_over(s, spare, parts);
}
