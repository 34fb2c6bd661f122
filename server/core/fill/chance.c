/* Sharing every possible supply out, component by component: batches that lines tie together, and those lines.
 *
 * By queue, a claim that is met at the least of all supplies is met at every supply, and may then be served before all
 * others without any of them getting more or less: such claims are served together, line by line of the merged net. */
#include "fill/chance.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/prob.h"
#include "fill/merge.h"

#define N COT_FILL_LEVELS
#define NOBODY UINT32_MAX

/* One component on its own: numbers within it, and of the whole. */
struct piece {
    const struct cot_chance_task *task;
    uint32_t wishes, batches;
    size_t claims, edges;
    uint32_t *wish_at, *batch_at; /* of the whole */
    struct cot_net net;
    struct cot_edge *edge;
    struct cot_wish *wish;
    struct cot_claim *claim;
    struct cot_merged merged;
    struct cot_sharing sharing;
    int64_t *ahead;     /* per merged line: what is certain */
    int64_t *certain;   /* per wish */
    bool *open;         /* per wish */
    int64_t *supply;    /* per merged batch */
    uint32_t sole;      /* number of its only batch among those that stand alone; NOBODY: it has several */
    uint32_t runs;      /* supplies to share out */
    uint32_t total;     /* sum of their weights */
    uint32_t *weight;   /* of each */
    int32_t *got;       /* [run * wishes + wish] */
    int32_t *column;    /* one wish's */
    uint32_t run_of[N]; /* per supply */
};

/* Lists of the whole, by component. */
struct sorting {
    uint32_t *wish_component, *local_wish, *local_batch;
    uint32_t *wish_list, *wish_first; /* by component */
    uint32_t *claim_list;
    size_t *claim_first;
};

static void sorting_free(struct sorting *s)
{
    free(s->wish_component);
    free(s->local_wish);
    free(s->local_batch);
    free(s->wish_list);
    free(s->wish_first);
    free(s->claim_list);
    free(s->claim_first);
}

static void piece_free(struct piece *p)
{
    cot_sharing_free(&p->sharing);
    cot_merged_free(&p->merged);
    cot_net_free(&p->net);
    free(p->wish_at);
    free(p->batch_at);
    free(p->edge);
    free(p->wish);
    free(p->claim);
    free(p->ahead);
    free(p->certain);
    free(p->open);
    free(p->supply);
    free(p->weight);
    free(p->got);
    free(p->column);
    *p = (struct piece){0};
}

static bool sort_by_component(const struct cot_chance_task *t, struct sorting *s)
{
    const struct cot_sharing *w = t->whole;
    const size_t *node = cot_net_node(&w->net);
    s->wish_component = calloc((size_t)w->wishes + 1, sizeof *s->wish_component);
    s->local_wish = calloc((size_t)w->wishes + 1, sizeof *s->local_wish);
    s->local_batch = calloc((size_t)w->net.batches + 1, sizeof *s->local_batch);
    s->wish_list = calloc((size_t)w->wishes + 1, sizeof *s->wish_list);
    s->wish_first = calloc((size_t)t->components + 2, sizeof *s->wish_first);
    s->claim_list = calloc(w->claims + 1, sizeof *s->claim_list);
    s->claim_first = calloc((size_t)t->components + 2, sizeof *s->claim_first);
    if (!s->wish_component || !s->local_wish || !s->local_batch || !s->wish_list || !s->wish_first || !s->claim_list ||
        !s->claim_first)
        return false;
    for (uint32_t i = 0; i < w->wishes; i++) {
        size_t first = node[2 * w->wish[i].line], end = node[2 * w->wish[i].line + 2];
        bool asks = w->wish[i].need > 0 && first < end;
        s->wish_component[i] = asks ? t->component[w->net.edge[first].batch] : NOBODY;
        if (asks) s->wish_first[s->wish_component[i] + 2]++;
    }
    for (size_t c = 0; c < w->claims; c++)
        if (s->wish_component[w->claim[c].wish] != NOBODY) s->claim_first[s->wish_component[w->claim[c].wish] + 2]++;
    for (uint32_t k = 0; k < t->components; k++) {
        s->wish_first[k + 1] += s->wish_first[k];
        s->claim_first[k + 1] += s->claim_first[k];
    }
    for (uint32_t i = 0; i < w->wishes; i++)
        if (s->wish_component[i] != NOBODY) s->wish_list[s->wish_first[s->wish_component[i] + 1]++] = i;
    for (size_t c = 0; c < w->claims; c++) {
        uint32_t k = s->wish_component[w->claim[c].wish];
        if (k != NOBODY) s->claim_list[s->claim_first[k + 1]++] = (uint32_t)c;
    }
    return true;
}

/* --- One component ------------------------------------------------------------------------------------------------ */

static enum cot_err copy_net(struct piece *p, struct sorting *s, uint32_t k)
{
    const struct cot_sharing *w = p->task->whole;
    const size_t *node = cot_net_node(&w->net);
    p->wishes = s->wish_first[k + 1] - s->wish_first[k];
    p->claims = s->claim_first[k + 1] - s->claim_first[k];
    p->wish_at = calloc((size_t)p->wishes + 1, sizeof *p->wish_at);
    p->wish = calloc((size_t)p->wishes + 1, sizeof *p->wish);
    p->claim = calloc(p->claims + 1, sizeof *p->claim);
    p->batch_at = calloc((size_t)w->net.batches + 1, sizeof *p->batch_at);
    if (!p->wish_at || !p->wish || !p->claim || !p->batch_at) return COT_MEMORY;
    for (uint32_t b = 0; b < w->net.batches; b++) {
        if (p->task->component[b] != k) continue;
        s->local_batch[b] = p->batches;
        p->batch_at[p->batches++] = b;
    }
    for (uint32_t i = 0; i < p->wishes; i++) {
        uint32_t at = p->wish_at[i] = s->wish_list[s->wish_first[k] + i];
        p->edges += node[2 * w->wish[at].line + 2] - node[2 * w->wish[at].line];
        s->local_wish[at] = i;
        p->wish[i] = w->wish[at];
        p->wish[i].line = i;
    }
    p->edge = calloc(p->edges + 1, sizeof *p->edge);
    if (!p->edge) return COT_MEMORY;
    size_t n = 0;
    for (uint32_t i = 0; i < p->wishes; i++) {
        uint32_t line = w->wish[p->wish_at[i]].line;
        for (size_t e = node[2 * line]; e < node[2 * line + 2]; e++)
            p->edge[n++] = (struct cot_edge){i, s->local_batch[w->net.edge[e].batch], w->net.edge[e].spare};
    }
    for (size_t c = 0; c < p->claims; c++) {
        const struct cot_claim *from = &w->claim[s->claim_list[s->claim_first[k] + c]];
        p->claim[c] = (struct cot_claim){s->local_wish[from->wish], from->plants};
    }
    p->net = (struct cot_net){.lines = p->wishes, .batches = p->batches, .edges = p->edges, .edge = p->edge};
    return cot_net_start(&p->net);
}

static enum cot_err merge_net(struct piece *p)
{
    bool *asks = malloc((size_t)p->wishes + 1);
    if (!asks) return COT_MEMORY;
    memset(asks, true, (size_t)p->wishes + 1);
    enum cot_err err = cot_merge(&p->net, asks, &p->merged);
    free(asks);
    if (err != COT_OK) return err;
    for (uint32_t i = 0; i < p->wishes; i++) p->wish[i].line = p->merged.line_of[i];
    p->supply = calloc((size_t)p->merged.net.batches + 1, sizeof *p->supply);
    p->ahead = calloc((size_t)p->merged.net.lines + 1, sizeof *p->ahead);
    p->certain = calloc((size_t)p->wishes + 1, sizeof *p->certain);
    p->open = calloc((size_t)p->wishes + 1, sizeof *p->open);
    p->sharing = (struct cot_sharing){
        .net = p->merged.net,
        .rule = p->task->whole->rule,
        .wishes = p->wishes,
        .claims = p->claims,
        .wish = p->wish,
        .claim = p->claim,
    };
    return p->supply && p->ahead && p->certain && p->open ? cot_sharing_start(&p->sharing) : COT_MEMORY;
}

/* --- What is certain ---------------------------------------------------------------------------------------------- */

/* The least of all supplies, or the most, batch by batch. */
static void set_extreme(struct piece *p, bool most)
{
    const struct cot_supplies *s = p->task->supplies;
    for (uint32_t b = 0; b < p->merged.net.batches; b++) p->supply[b] = 0;
    for (uint32_t b = 0; b < p->batches; b++) {
        uint32_t at = p->batch_at[b], k = s->sole_of[at];
        const int32_t *sole = k == NOBODY ? NULL : s->sole + (size_t)k * COT_SOLE_LEVELS;
        int32_t plants = sole ? sole[most ? COT_SOLE_LEVELS - 1 : 0] : s->at[at];
        for (size_t i = 1; i < N && !sole; i++) {
            int32_t other = s->at[i * s->batches + at];
            if (most ? other > plants : other < plants) plants = other;
        }
        p->supply[p->merged.batch_of[b]] += plants;
    }
}

static bool plain_queue(const struct piece *p)
{
    bool plain = p->sharing.rule != COT_SHARE_PRORATA;
    for (uint32_t i = 0; i < p->wishes && plain; i++) plain = p->wish[i].unit <= 1 && p->wish[i].least <= 0;
    return plain;
}

/* Claims met at the least supply go ahead of all others, and out of the list. The net keeps what they have. */
static void take_certain_claims(struct piece *p)
{
    const size_t *node = cot_net_node(&p->merged.net);
    size_t kept = 0;
    cot_net_begin(&p->merged.net, p->supply);
    for (size_t c = 0; c < p->claims; c++) {
        struct cot_claim claim = p->claim[c];
        struct cot_wish *w = &p->wish[claim.wish];
        bool own = node[2 * w->line] < node[2 * w->line + 1];
        if (own && cot_net_give(&p->merged.net, 2 * w->line, claim.plants) == claim.plants) {
            p->certain[claim.wish] += claim.plants;
            p->ahead[w->line] += claim.plants;
            w->handed += claim.plants;
            w->need -= claim.plants;
        } else {
            p->claim[kept++] = claim;
        }
    }
    p->claims = kept;
    cot_net_begin(&p->merged.net, p->supply);
    for (uint32_t l = 0; l < p->merged.net.lines; l++)
        (void)cot_net_give(&p->merged.net, 2 * l, p->ahead[l]); /* all of it: the claims had it before */
    cot_net_keep(&p->merged.net);
}

/* Claims that get nothing at the greatest supply get nothing ever, and leave the list; so long as nothing spare may
 * come to them. */
static void drop_vain_claims(struct piece *p)
{
    const size_t *node = cot_net_node(&p->merged.net);
    size_t kept = 0;
    cot_net_again(&p->merged.net, p->supply);
    for (size_t c = 0; c < p->claims; c++) {
        uint32_t at = 2 * p->wish[p->claim[c].wish].line;
        int64_t got = cot_net_give(&p->merged.net, at, p->claim[c].plants);
        if (got > 0 || node[at + 1] < node[at + 2]) p->claim[kept++] = p->claim[c];
    }
    p->claims = kept;
}

/* Under the other rules: all is certain when everybody is served at the least supply, or nothing is. */
static void take_certain_wishes(struct piece *p)
{
    cot_share(&p->sharing, p->supply);
    const int64_t *got = cot_share_got(&p->sharing);
    for (uint32_t i = 0; i < p->wishes; i++)
        if (got[i] < p->wish[i].need) return;
    for (uint32_t i = 0; i < p->wishes; i++) {
        p->certain[i] = p->wish[i].need;
        p->wish[i].need = 0;
    }
    p->claims = 0;
}

/* A wish of which nothing is open: it has all, or will never have more than what is certain. */
static void settle(const struct piece *p, uint32_t i)
{
    const struct cot_chance_task *t = p->task;
    const struct cot_net *net = &t->whole->net;
    uint32_t at = p->wish_at[i], line = t->whole->wish[at].line;
    bool full = p->wish[i].need == 0;
    t->prospect[at] = (struct cot_prospect){full, p->certain[i]};
    if (full) return;
    t->farm.never[t->farm_of[at]] = true;
    for (size_t e = cot_net_node(net)[2 * line]; e < cot_net_node(net)[2 * line + 2]; e++)
        if (cot_net_flow(net)[e] > 0) memset(t->batch_lacking + (size_t)net->edge[e].batch * N, true, N);
}

/* Wishes of which nothing is open leave the piece. */
static void drop_settled_wishes(struct piece *p, uint32_t *local)
{
    const struct cot_chance_task *t = p->task;
    uint32_t kept = 0;
    for (uint32_t i = 0; i < p->wishes; i++) p->open[i] = false;
    for (size_t c = 0; c < p->claims; c++) {
        p->open[p->claim[c].wish] = true;
        p->claim[c].wish = p->wish_at[p->claim[c].wish]; /* of the whole for a while */
    }
    for (uint32_t i = 0; i < p->wishes; i++) {
        uint32_t at = p->wish_at[i];
        t->farm.base[t->farm_of[at]] += p->certain[i];
        local[at] = kept;
        if (!p->open[i]) {
            settle(p, i);
            continue;
        }
        p->wish_at[kept] = at;
        p->wish[kept] = p->wish[i];
        p->certain[kept++] = p->certain[i];
    }
    p->wishes = kept;
    for (size_t c = 0; c < p->claims; c++) p->claim[c].wish = local[p->claim[c].wish];
}

static enum cot_err settle_certain(struct piece *p, uint32_t *local)
{
    bool plain = plain_queue(p);
    set_extreme(p, false);
    if (plain) {
        take_certain_claims(p);
        set_extreme(p, true);
        drop_vain_claims(p);
    } else {
        take_certain_wishes(p);
    }
    drop_settled_wishes(p, local);
    cot_sharing_free(&p->sharing);
    p->sharing.wishes = p->wishes;
    p->sharing.claims = p->claims;
    p->sharing.ahead = plain;
    return cot_sharing_start(&p->sharing);
}

/* --- Its supplies ---------------------------------------------------------------------------------------------------
 */

/* A batch alone: each figure it may have once, with its weight. */
static void list_sole(struct piece *p)
{
    const struct cot_supplies *s = p->task->supplies;
    const int32_t *plants = s->sole + (size_t)p->sole * COT_SOLE_LEVELS;
    const uint16_t *level = s->level + (size_t)p->sole * N;
    uint32_t run[COT_SOLE_LEVELS];
    for (uint32_t i = 0; i < COT_SOLE_LEVELS; i++) {
        if (i == 0 || plants[i] != plants[i - 1]) p->weight[p->runs++] = 0;
        run[i] = p->runs - 1;
        p->weight[run[i]]++;
    }
    for (uint32_t i = 0; i < N; i++) p->run_of[i] = run[level[i]];
    p->total = COT_SOLE_LEVELS;
}

static enum cot_err list_runs(struct piece *p)
{
    p->sole = p->batches == 1 ? p->task->supplies->sole_of[p->batch_at[0]] : NOBODY;
    uint32_t most = p->sole == NOBODY ? N : COT_SOLE_LEVELS;
    p->weight = calloc(most, sizeof *p->weight);
    p->column = calloc(most, sizeof *p->column);
    if (!p->weight || !p->column) return COT_MEMORY;
    if (p->sole != NOBODY) {
        list_sole(p);
    } else {
        p->runs = p->total = N;
        for (uint32_t i = 0; i < N; i++) {
            p->weight[i] = 1;
            p->run_of[i] = i;
        }
    }
    p->got = calloc((size_t)p->runs * p->wishes + 1, sizeof *p->got);
    return p->got ? COT_OK : COT_MEMORY;
}

static void set_supply(struct piece *p, uint32_t run)
{
    const struct cot_supplies *s = p->task->supplies;
    for (uint32_t b = 0; b < p->merged.net.batches; b++) p->supply[b] = 0;
    for (uint32_t b = 0; b < p->batches && p->sole == NOBODY; b++)
        p->supply[p->merged.batch_of[b]] += s->at[(size_t)run * s->batches + p->batch_at[b]];
}

static void share_runs(struct piece *p)
{
    const int64_t *got = cot_share_got(&p->sharing);
    const int32_t *sole = p->sole == NOBODY ? NULL : p->task->supplies->sole + (size_t)p->sole * COT_SOLE_LEVELS;
    uint32_t level = 0;
    for (uint32_t r = 0; r < p->runs; r++) {
        set_supply(p, r);
        if (sole) p->supply[p->merged.batch_of[0]] = sole[level];
        level += p->weight[r];
        cot_share(&p->sharing, p->supply);
        for (uint32_t i = 0; i < p->wishes; i++) p->got[(size_t)r * p->wishes + i] = (int32_t)got[i];
    }
}

/* --- What comes of it ------------------------------------------------------------------------------------------- */

struct outcome {
    int32_t plants;
    uint32_t weight;
};

static int outcome_cmp(const void *x, const void *y)
{
    int32_t a = ((const struct outcome *)x)->plants, b = ((const struct outcome *)y)->plants;
    return a < b ? -1 : a > b;
}

/* The k-th least (from 0) of n figures; moves them about (Hoare 1961, "Find"). */
static int32_t select_least(int32_t *a, int32_t n, int32_t k)
{
    int32_t low = 0, high = n - 1;
    while (low < high) {
        int32_t pivot = a[k], i = low, j = high;
        while (i <= j) {
            while (a[i] < pivot) i++;
            while (pivot < a[j]) j--;
            if (i > j) break;
            int32_t t = a[i];
            a[i++] = a[j];
            a[j--] = t;
        }
        if (j < k) low = i;
        if (k < i) high = j;
    }
    return a[k];
}

/* The most that figures of at least `enough` weight reach. Moves p->column about. */
static enum cot_err find_holds(struct piece *p, uint32_t enough, int64_t *out)
{
    uint32_t below = p->total - enough; /* weight that may stay below it */
    if (p->sole == NOBODY) {
        *out = select_least(p->column, N, (int32_t)below);
        return COT_OK;
    }
    struct outcome *o = malloc((size_t)p->runs * sizeof *o);
    if (!o) return COT_MEMORY;
    bool rising = true;
    for (uint32_t r = 0; r < p->runs; r++) {
        o[r] = (struct outcome){p->column[r], p->weight[r]};
        rising = rising && (r == 0 || o[r - 1].plants <= o[r].plants);
    }
    if (!rising) qsort(o, p->runs, sizeof *o, outcome_cmp);
    uint32_t r = 0;
    for (uint32_t sum = o[0].weight; sum <= below; sum += o[++r].weight) continue;
    *out = o[r].plants;
    free(o);
    return COT_OK;
}

/* Adds the wish's figures to its farm's, and to the batches that serve it. */
static void count_in(const struct piece *p, uint32_t i)
{
    const struct cot_chance_task *t = p->task;
    const struct cot_net *net = &t->whole->net;
    uint32_t at = p->wish_at[i], line = t->whole->wish[at].line, farm = t->farm_of[at];
    const size_t *node = cot_net_node(net);
    const int64_t *flow = cot_net_flow(net);
    int32_t need = (int32_t)p->wish[i].need;
    bool lacks[N];
    for (uint32_t s = 0; s < N; s++) {
        int32_t got = p->column[p->run_of[s]];
        t->farm.sum[(size_t)farm * N + s] += got;
        lacks[s] = got < need;
    }
    for (uint32_t s = 0; s < N; s++) t->farm.lacking[(size_t)farm * N + s] |= lacks[s];
    for (size_t e = node[2 * line]; e < node[2 * line + 2]; e++) {
        bool *lacking = t->batch_lacking + (size_t)net->edge[e].batch * N;
        for (uint32_t s = 0; s < N && flow[e] > 0; s++) lacking[s] |= lacks[s];
    }
}

static enum cot_err sum_up(struct piece *p)
{
    const struct cot_chance_task *t = p->task;
    uint32_t enough = (uint32_t)(((int64_t)t->confidence * p->total + 999) / 1000);
    enum cot_err err = COT_OK;
    for (uint32_t i = 0; i < p->wishes && err == COT_OK; i++) {
        struct cot_prospect *q = &t->prospect[p->wish_at[i]];
        uint32_t full = 0;
        for (uint32_t r = 0; r < p->runs; r++) {
            p->column[r] = p->got[(size_t)r * p->wishes + i];
            if (p->column[r] == p->wish[i].need) full += p->weight[r];
        }
        count_in(p, i);
        q->full = cot_round9((double)full / p->total);
        if (full >= enough) q->holds = p->wish[i].need;
        else err = find_holds(p, enough, &q->holds);
        q->holds += p->certain[i];
    }
    return err;
}

static enum cot_err do_component(const struct cot_chance_task *t, struct sorting *s, uint32_t k)
{
    struct piece p = {.task = t};
    enum cot_err err = copy_net(&p, s, k);
    if (err == COT_OK && p.wishes == 0) goto out;
    if (err == COT_OK) err = merge_net(&p);
    if (err == COT_OK) err = settle_certain(&p, s->local_wish);
    if (err == COT_OK && p.wishes == 0) goto out;
    if (err == COT_OK) err = list_runs(&p);
    if (err != COT_OK) goto out;
    share_runs(&p);
    err = sum_up(&p);
out:
    piece_free(&p);
    return err;
}

enum cot_err cot_chances(const struct cot_chance_task *t)
{
    struct sorting s = {0};
    enum cot_err err = sort_by_component(t, &s) ? COT_OK : COT_MEMORY;
    for (uint32_t i = 0; i < t->whole->wishes && err == COT_OK; i++) {
        if (s.wish_component[i] != NOBODY) continue;
        t->prospect[i] = (struct cot_prospect){t->whole->wish[i].need == 0, 0};
        if (t->whole->wish[i].need > 0) t->farm.never[t->farm_of[i]] = true;
    }
    for (uint32_t k = 0; k < t->components && err == COT_OK; k++) err = do_component(t, &s, k);
    sorting_free(&s);
    return err;
}
