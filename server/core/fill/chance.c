/* Sharing every possible supply out, component by component: batches that lines tie together, and those lines. */
#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/prob.h"
#include "fill/piece.h"

#define N COT_FILL_LEVELS
#define NOBODY UINT32_MAX

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

static void piece_free(struct cot_piece *p)
{
    cot_sharing_free(&p->sharing);
    cot_merged_free(&p->merged);
    cot_net_free(&p->net);
    free(p->wish_at);
    free(p->batch_at);
    free(p->edge);
    free(p->wish);
    free(p->claim);
    free(p->serves);
    free(p->supply);
    free(p->origin);
    free(p->heavier);
    free(p->spell);
    free(p->last);
    free(p->first);
    *p = (struct cot_piece){0};
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

static enum cot_err copy_net(struct cot_piece *p, struct sorting *s, uint32_t k)
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
    p->serves = calloc(p->edges + 1, sizeof *p->serves);
    if (!p->edge || !p->serves) return COT_MEMORY;
    size_t n = 0;
    for (uint32_t i = 0; i < p->wishes; i++) {
        uint32_t line = w->wish[p->wish_at[i]].line;
        for (size_t e = node[2 * line]; e < node[2 * line + 2]; e++) {
            p->serves[n] = cot_net_flow(&w->net)[e] > 0;
            p->edge[n++] = (struct cot_edge){i, s->local_batch[w->net.edge[e].batch], w->net.edge[e].spare};
        }
    }
    for (size_t c = 0; c < p->claims; c++) {
        const struct cot_claim *from = &w->claim[s->claim_list[s->claim_first[k] + c]];
        p->claim[c] = (struct cot_claim){s->local_wish[from->wish], from->plants};
    }
    p->net = (struct cot_net){.lines = p->wishes, .batches = p->batches, .edges = p->edges, .edge = p->edge};
    return cot_net_start(&p->net);
}

static enum cot_err merge_net(struct cot_piece *p)
{
    bool *asks = malloc((size_t)p->wishes + 1);
    if (!asks) return COT_MEMORY;
    memset(asks, true, (size_t)p->wishes + 1);
    enum cot_err err = cot_merge(&p->net, asks, &p->merged);
    free(asks);
    if (err != COT_OK) return err;
    for (uint32_t i = 0; i < p->wishes; i++) p->wish[i].line = p->merged.line_of[i];
    p->sharing = (struct cot_sharing){
        .net = p->merged.net,
        .rule = p->task->whole->rule,
        .wishes = p->wishes,
        .claims = p->claims,
        .wish = p->wish,
        .claim = p->claim,
    };
    return cot_sharing_start(&p->sharing);
}

/* --- Its points ------------------------------------------------------------------------------------------------- */

/* A batch alone: each figure it may have once, with its weight. */
static void list_sole(struct cot_piece *p, uint32_t sole)
{
    const int32_t *plants = p->task->supplies->sole + (size_t)sole * COT_SOLE_LEVELS;
    p->points = 0;
    for (uint32_t i = 0; i < COT_SOLE_LEVELS; i++) {
        if (i == 0 || plants[i] != plants[i - 1]) {
            p->heavier[p->points] = i;
            p->supply[p->points++] = plants[i];
        }
    }
    p->heavier[p->points] = COT_SOLE_LEVELS;
    memcpy(p->supply + p->points, p->supply, p->points * sizeof *p->supply);
}

static void list_several(struct cot_piece *p)
{
    const struct cot_supplies *s = p->task->supplies;
    int64_t *sum = p->supply + (size_t)p->merged.net.batches * N;
    for (uint32_t b = 0; b < p->batches; b++) {
        const int32_t *at = s->at + (size_t)p->batch_at[b] * N;
        int64_t *to = p->supply + (size_t)p->merged.batch_of[b] * N;
        for (uint32_t i = 0; i < N; i++) {
            to[i] += at[i];
            sum[i] += at[i];
        }
    }
    for (uint32_t i = 0; i <= N; i++) p->heavier[i] = i;
}

static enum cot_err list_points(struct cot_piece *p)
{
    uint32_t sole = p->batches == 1 ? p->task->supplies->sole_of[p->batch_at[0]] : NOBODY;
    p->points = sole == NOBODY ? N : COT_SOLE_LEVELS;
    p->supply = calloc((size_t)p->points * (p->merged.net.batches + 1), sizeof *p->supply);
    p->origin = calloc((size_t)p->points + 1, sizeof *p->origin);
    p->heavier = calloc((size_t)p->points + 1, sizeof *p->heavier);
    p->last = calloc((size_t)p->wishes + 1, sizeof *p->last);
    if (!p->supply || !p->origin || !p->heavier || !p->last) return COT_MEMORY;
    if (sole == NOBODY) list_several(p);
    else list_sole(p, sole);
    for (uint32_t i = 0; i < p->points; i++) p->origin[i] = i;
    for (uint32_t i = 0; i < p->wishes; i++) p->last[i] = COT_NO_SPELL;
    return COT_OK;
}

/* --- What comes of it ------------------------------------------------------------------------------------------- */

struct outcome {
    int64_t plants;
    uint32_t weight;
};

static void swap(struct outcome *a, struct outcome *b)
{
    struct outcome t = *a;
    *a = *b;
    *b = t;
}

/* The plants of the outcome, least first, with which the sum of weights comes to be above `below`. Moves outcomes about
 * (Hoare 1961, "Find", in three parts). */
static int64_t select_outcome(struct outcome *o, size_t n, uint32_t below)
{
    uint32_t before = 0; /* weight of those put aside as less */
    for (;;) {
        int64_t pivot = o[n / 2].plants;
        size_t less = 0, more = n;
        uint32_t less_weight = before, same_weight = 0;
        for (size_t i = 0; i < more;) {
            if (o[i].plants < pivot) {
                less_weight += o[i].weight;
                swap(&o[less++], &o[i++]);
            } else if (o[i].plants > pivot) {
                swap(&o[--more], &o[i]);
            } else {
                same_weight += o[i++].weight;
            }
        }
        if (less_weight > below) {
            n = less;
        } else if (less_weight + same_weight > below || more == n) {
            return pivot;
        } else {
            before = less_weight + same_weight;
            o += more;
            n -= more;
        }
    }
}

static uint32_t weight_of(const struct cot_piece *p, const struct cot_spell *s)
{
    return p->heavier[s->high] - p->heavier[s->low];
}

/* Puts the spells of each wish together. */
static enum cot_err sort_spells(struct cot_piece *p)
{
    struct cot_spell *sorted = calloc(p->spells + 1, sizeof *sorted);
    p->first = calloc((size_t)p->wishes + 2, sizeof *p->first);
    if (!sorted || !p->first) {
        free(sorted);
        return COT_MEMORY;
    }
    for (size_t k = 0; k < p->spells; k++) p->first[p->spell[k].wish + 2]++;
    for (uint32_t i = 0; i < p->wishes; i++) p->first[i + 1] += p->first[i];
    for (size_t k = 0; k < p->spells; k++) sorted[p->first[p->spell[k].wish + 1]++] = p->spell[k];
    free(p->spell);
    p->spell = sorted;
    return COT_OK;
}

/* The most that is reached with all but `below` of the weight; `none` of the weight has nothing. `o` is scratch. */
static int64_t find_holds(const struct cot_piece *p, uint32_t wish, uint32_t none, uint32_t below, struct outcome *o)
{
    size_t n = 0;
    if (none > below) return 0;
    for (size_t k = p->first[wish]; k < p->first[wish + 1]; k++)
        o[n++] = (struct outcome){p->spell[k].plants, weight_of(p, &p->spell[k])};
    return select_outcome(o, n, below - none);
}

static void judge_wish(const struct cot_piece *p, uint32_t i, struct outcome *o)
{
    struct cot_prospect *q = &p->task->prospect[p->wish_at[i]];
    uint32_t total = p->heavier[p->points], some = 0, full = 0;
    uint32_t enough = (uint32_t)(((int64_t)p->task->confidence * total + 999) / 1000);
    for (size_t k = p->first[i]; k < p->first[i + 1]; k++) {
        uint32_t weight = weight_of(p, &p->spell[k]);
        some += weight;
        if (p->spell[k].plants == p->wish[i].need) full += weight;
    }
    q->full = cot_round9((double)full / total);
    q->holds = full >= enough ? p->wish[i].need : find_holds(p, i, total - some, total - enough, o);
}

/* Counted over the points of a piece, put down as what changes from one point to the next: plants in the upper bits,
 * wishes that do not get all they need in the lower ones. */
struct tally {
    uint64_t *count;   /* points + 1 */
    unsigned shift;    /* of plants */
    uint16_t point[N]; /* per supply of the task */
};

static enum cot_err tally_start(const struct cot_piece *p, struct tally *t)
{
    uint32_t sole = p->batches == 1 ? p->task->supplies->sole_of[p->batch_at[0]] : NOBODY;
    t->count = calloc((size_t)p->points + 1, sizeof *t->count);
    if (!t->count) return COT_MEMORY;
    while (p->wishes >> t->shift) t->shift++;
    if (sole == NOBODY) {
        for (uint32_t i = 0; i < N; i++) t->point[p->origin[i]] = (uint16_t)i;
        return COT_OK;
    }
    const uint16_t *level = p->task->supplies->level + (size_t)sole * N;
    uint16_t of[COT_SOLE_LEVELS];
    for (uint32_t i = 0; i < p->points; i++)
        for (uint32_t l = p->heavier[i]; l < p->heavier[i + 1]; l++) of[l] = (uint16_t)i;
    for (uint32_t i = 0; i < N; i++) t->point[i] = of[level[i]];
    return COT_OK;
}

static void tally_wish(const struct cot_piece *p, uint32_t wish, struct tally *t)
{
    t->count[0]++;
    for (size_t k = p->first[wish]; k < p->first[wish + 1]; k++) {
        const struct cot_spell *s = &p->spell[k];
        uint64_t change = ((uint64_t)s->plants << t->shift) - (s->plants == p->wish[wish].need);
        t->count[s->low] += change;
        t->count[s->high] -= change;
    }
}

/* Turns changes into figures; true if they are the same at all points. */
static bool tally_sum(const struct cot_piece *p, struct tally *t)
{
    uint64_t sum = t->count[0], changes = 0;
    for (uint32_t i = 1; i < p->points; i++) {
        changes |= t->count[i];
        t->count[i] = sum += t->count[i];
    }
    return changes == 0;
}

/* Adds what was counted to the figures of the supplies, and begins anew. `sum` may be NULL. */
static void tally_add(const struct cot_piece *p, struct tally *t, int64_t *sum, bool *lacking)
{
    uint64_t *count = t->count, lacks = (UINT64_C(1) << t->shift) - 1;
    unsigned shift = t->shift;
    if (tally_sum(p, t)) {
        int64_t plants = (int64_t)(count[0] >> shift);
        if (count[0] & lacks) memset(lacking, true, N);
        for (uint32_t s = 0; sum && plants > 0 && s < N; s++) sum[s] += plants;
    } else if (sum) {
        for (uint32_t s = 0; s < N; s++) {
            uint64_t at = count[t->point[s]];
            sum[s] += (int64_t)(at >> shift);
            lacking[s] |= (at & lacks) != 0;
        }
    } else {
        for (uint32_t s = 0; s < N; s++) lacking[s] |= (count[t->point[s]] & lacks) != 0;
    }
    memset(count, 0, ((size_t)p->points + 1) * sizeof *count);
}

static void count_farm(const struct cot_piece *p, uint32_t farm, struct tally *t)
{
    const struct cot_party *party = &p->task->farm;
    for (uint32_t i = 0; i < p->wishes; i++)
        if (p->task->farm_of[p->wish_at[i]] == farm) tally_wish(p, i, t);
    tally_add(p, t, party->sum + (size_t)farm * N, party->lacking + (size_t)farm * N);
}

/* Of the lines that have plants of it. */
static void count_batch(const struct cot_piece *p, uint32_t batch, struct tally *t)
{
    const size_t *first;
    const uint32_t *edge = cot_net_edges_of(&p->net, &first);
    for (size_t k = first[batch]; k < first[batch + 1]; k++)
        if (p->serves[edge[k]]) tally_wish(p, p->edge[edge[k]].line, t);
    tally_add(p, t, NULL, p->task->batch_lacking + (size_t)p->batch_at[batch] * N);
}

static enum cot_err sum_up(const struct cot_piece *p)
{
    struct tally t = {0};
    struct outcome *o = calloc((size_t)p->points + 1, sizeof *o);
    bool *counted = calloc((size_t)p->wishes + 1, sizeof *counted);
    enum cot_err err = o && counted ? tally_start(p, &t) : COT_MEMORY;
    if (err != COT_OK) goto out;
    for (uint32_t i = 0; i < p->wishes; i++) judge_wish(p, i, o);
    for (uint32_t i = 0; i < p->wishes; i++) {
        uint32_t farm = p->task->farm_of[p->wish_at[i]];
        if (counted[i]) continue;
        count_farm(p, farm, &t);
        for (uint32_t k = i; k < p->wishes; k++) counted[k] |= p->task->farm_of[p->wish_at[k]] == farm;
    }
    for (uint32_t b = 0; b < p->batches; b++) count_batch(p, b, &t);
out:
    free(t.count);
    free(o);
    free(counted);
    return err;
}

static enum cot_err do_component(const struct cot_chance_task *t, struct sorting *s, uint32_t k)
{
    struct cot_piece p = {.task = t};
    enum cot_err err = copy_net(&p, s, k);
    if (err == COT_OK && p.wishes == 0) goto out;
    if (err == COT_OK) err = merge_net(&p);
    if (err == COT_OK) err = list_points(&p);
    if (err == COT_OK) err = cot_walk(&p);
    if (err == COT_OK) err = sort_spells(&p);
    if (err == COT_OK) err = sum_up(&p);
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
