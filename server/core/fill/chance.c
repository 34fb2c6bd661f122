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
    const struct cot_supplies *s = p->task->supplies;
    const int32_t *plants = s->sole + (size_t)sole * COT_SOLE_LEVELS;
    const uint32_t *before = s->sole_before + (size_t)sole * (COT_SOLE_LEVELS + 1);
    for (uint32_t i = 0; i < p->points; i++) p->supply[2 * i] = p->supply[2 * i + 1] = plants[i];
    for (uint32_t i = 0; i <= p->points; i++) p->heavier[i] = before[i];
}

static void list_several(struct cot_piece *p)
{
    const struct cot_supplies *s = p->task->supplies;
    uint32_t all = p->merged.net.batches;
    for (uint32_t b = 0; b < p->batches; b++) {
        const int32_t *at = s->at + (size_t)p->batch_at[b] * N;
        int64_t *to = p->supply + p->merged.batch_of[b], *sum = p->supply + all;
        for (uint32_t i = 0; i < N; i++, to += all + 1, sum += all + 1) {
            *to += at[i];
            *sum += at[i];
        }
    }
    for (uint32_t i = 0; i <= N; i++) p->heavier[i] = i;
}

static enum cot_err list_points(struct cot_piece *p)
{
    uint32_t sole = p->batches == 1 ? p->task->supplies->sole_of[p->batch_at[0]] : NOBODY;
    p->points = sole == NOBODY ? N : p->task->supplies->sole_points[sole];
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
struct run { /* of points that count the same */
    uint64_t count;
    uint32_t low, high;
};
struct tally {
    uint64_t *change; /* points + 1 */
    unsigned shift;   /* of plants */
    struct run *run;
    uint16_t supply[N]; /* supplies of the task, in order of the points they are at */
    uint16_t *before;   /* points + 1: supplies at lesser points */
};

static void tally_free(struct tally *t)
{
    free(t->change);
    free(t->run);
    free(t->before);
}

/* Which supplies are at each of the points of a batch alone. */
static void place_sole(const struct cot_piece *p, uint32_t sole, struct tally *t)
{
    const uint16_t *point = p->task->supplies->point + (size_t)sole * N;
    for (uint32_t s = 0; s < N; s++) t->before[point[s] + 1]++;
    for (uint32_t i = 0; i < p->points; i++) t->before[i + 1] = (uint16_t)(t->before[i] + t->before[i + 1]);
    for (uint32_t s = N; s-- > 0;) t->supply[--t->before[point[s] + 1]] = (uint16_t)s;
    memmove(t->before, t->before + 1, p->points * sizeof *t->before);
    t->before[p->points] = N;
}

static enum cot_err tally_start(const struct cot_piece *p, struct tally *t)
{
    uint32_t sole = p->batches == 1 ? p->task->supplies->sole_of[p->batch_at[0]] : NOBODY;
    t->change = calloc((size_t)p->points + 1, sizeof *t->change);
    t->run = calloc((size_t)p->points + 1, sizeof *t->run);
    t->before = calloc((size_t)p->points + 2, sizeof *t->before);
    if (!t->change || !t->run || !t->before) return COT_MEMORY;
    while (p->wishes >> t->shift) t->shift++;
    if (sole != NOBODY) {
        place_sole(p, sole, t);
        return COT_OK;
    }
    for (uint32_t i = 0; i < N; i++) t->supply[i] = (uint16_t)p->origin[i];
    for (uint32_t i = 0; i <= N; i++) t->before[i] = (uint16_t)i;
    return COT_OK;
}

static void tally_wish(const struct cot_piece *p, uint32_t wish, struct tally *t)
{
    t->change[0]++;
    for (size_t k = p->first[wish]; k < p->first[wish + 1]; k++) {
        const struct cot_spell *s = &p->spell[k];
        uint64_t change = ((uint64_t)s->plants << t->shift) - (s->plants == p->wish[wish].need);
        t->change[s->low] += change;
        t->change[s->high] -= change;
    }
}

/* Turns changes into runs, and begins anew. Returns how many runs. */
static size_t tally_runs(const struct cot_piece *p, struct tally *t)
{
    size_t runs = 1;
    t->run[0] = (struct run){t->change[0], 0, p->points};
    for (uint32_t i = 1; i < p->points; i++) {
        if (t->change[i] == 0) continue;
        t->run[runs - 1].high = i;
        t->run[runs] = (struct run){t->run[runs - 1].count + t->change[i], i, p->points};
        t->change[i] = 0;
        runs++;
    }
    t->change[0] = t->change[p->points] = 0;
    return runs;
}

/* The count of more than half of the points, if there is one (Boyer and Moore 1981, from memory); else any. */
static uint64_t usual_count(const struct run *run, size_t runs)
{
    uint64_t usual = run[0].count;
    uint32_t votes = 0;
    for (size_t k = 0; k < runs; k++) {
        uint32_t points = run[k].high - run[k].low;
        if (run[k].count == usual) {
            votes += points;
        } else if (votes >= points) {
            votes -= points;
        } else {
            usual = run[k].count;
            votes = points - votes;
        }
    }
    return usual;
}

/* What is usual goes to the farm's base, so only the other supplies are gone over. */
static void count_farm(const struct cot_piece *p, uint32_t farm, struct tally *t)
{
    const struct cot_party *party = &p->task->farm;
    int64_t *sum = party->sum + (size_t)farm * N;
    bool *lacking = party->lacking + (size_t)farm * N;
    uint64_t lacks = (UINT64_C(1) << t->shift) - 1;
    for (uint32_t i = 0; i < p->wishes; i++)
        if (p->task->farm_of[p->wish_at[i]] == farm) tally_wish(p, i, t);
    size_t runs = tally_runs(p, t);
    int64_t usual = (int64_t)(usual_count(t->run, runs) >> t->shift);
    party->base[farm] += usual;
    for (size_t k = 0; k < runs; k++) {
        const struct run *r = &t->run[k];
        int64_t more = (int64_t)(r->count >> t->shift) - usual;
        bool lack = (r->count & lacks) != 0;
        if (more == 0 && !lack) continue;
        for (uint32_t i = t->before[r->low]; i < t->before[r->high]; i++) {
            sum[t->supply[i]] += more;
            lacking[t->supply[i]] |= lack;
        }
    }
}

/* Of the lines that have plants of it. */
static void count_batch(const struct cot_piece *p, uint32_t batch, struct tally *t)
{
    const size_t *first;
    const uint32_t *edge = cot_net_edges_of(&p->net, &first);
    uint64_t lacks = (UINT64_C(1) << t->shift) - 1;
    uint32_t *lacking = &p->task->batch_lacking[p->batch_at[batch]];
    for (size_t k = first[batch]; k < first[batch + 1]; k++)
        if (p->serves[edge[k]]) tally_wish(p, p->edge[edge[k]].line, t);
    size_t runs = tally_runs(p, t);
    for (size_t k = 0; k < runs; k++)
        if (t->run[k].count & lacks) *lacking += t->before[t->run[k].high] - (uint32_t)t->before[t->run[k].low];
}

static enum cot_err sum_up(const struct cot_piece *p)
{
    struct tally t = {0};
    struct outcome *o = calloc((size_t)p->points + 1, sizeof *o);
    bool *counted = calloc((size_t)p->wishes + 1, sizeof *counted);
    enum cot_err err = o && counted ? tally_start(p, &t) : COT_MEMORY;
    if (err != COT_OK) goto out;
    for (uint32_t i = 0; i < p->wishes; i++) judge_wish(p, i, o);
    if (p->task->prospects_only) goto out;
    for (uint32_t i = 0; i < p->wishes; i++) {
        uint32_t farm = p->task->farm_of[p->wish_at[i]];
        if (counted[i]) continue;
        count_farm(p, farm, &t);
        for (uint32_t k = i; k < p->wishes; k++) counted[k] |= p->task->farm_of[p->wish_at[k]] == farm;
    }
    for (uint32_t b = 0; b < p->batches; b++) count_batch(p, b, &t);
out:
    tally_free(&t);
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
    for (uint32_t k = 0; k < t->components && err == COT_OK; k++)
        if (!t->known || !t->known[k]) err = do_component(t, &s, k);
    sorting_free(&s);
    return err;
}
