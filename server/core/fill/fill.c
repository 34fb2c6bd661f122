/* The fill report: supply and claims read from the book, shared out, and how sure that is. */
#include "cotyledger/core/fill.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/prob.h"
#include "fill/flow.h"
#include "fill/levels.h"
#include "fill/lines.h"
#include "fill/merge.h"
#include "stand/stand.h"

#define N COT_FILL_LEVELS

/* An edge on its way into order of preference. */
struct pick {
    struct cot_edge edge;
    uint32_t sub;  /* 0: own variety; 1 ..: the n-th substitute */
    bool own_seed; /* the farm's own */
    int32_t ready;
    int64_t there; /* likely supply: small batches are used up first, so that fewer left-overs remain */
};

/* Everything one reading needs, so that one place frees it. */
struct reading {
    struct cot_stand_shared shared;
    struct cot_lines lines;
    struct cot_fill *out;
    const struct cot_what_if *change;
    struct pick *pick;
    size_t pick_count;
    struct cot_edge *edge;
    struct cot_claim *claim;
    struct cot_net net;
    int64_t *supply; /* per batch */
    int64_t *flow;   /* per edge */
    int64_t *at;     /* per batch and supply: plants still to be handed over */
    int64_t *total;  /* per line and supply: plants in the end */
};

void cot_fill_free(struct cot_fill *f)
{
    free(f->line);
    free(f->stand);
    free(f->batch);
    free(f->serves);
    free(f->allot);
    free(f->farm);
    *f = (struct cot_fill){0};
}

const char *cot_fill_word(enum cot_fill_verdict v)
{
    static const char *const words[] = {[COT_COVERED] = "covered", [COT_SHORT] = "short", [COT_IN_DOUBT] = "in doubt"};
    return (unsigned)v < sizeof words / sizeof words[0] ? words[v] : "?";
}

static void reading_free(struct reading *r)
{
    cot_stand_shared_free(&r->shared);
    cot_lines_free(&r->lines);
    cot_net_free(&r->net);
    free(r->pick);
    free(r->edge);
    free(r->claim);
    free(r->supply);
    free(r->flow);
    free(r->at);
    free(r->total);
}

static void *room(size_t n, size_t size)
{
    return calloc(n ? n : 1, size);
}

/* --- Stands ------------------------------------------------------------------------------------------------------- */

/* A what-if's release and patching. */
static void change_stand(const struct reading *r, const struct cot_thing *batch, struct cot_stand *s)
{
    const struct cot_what_if *c = r->change;
    if (c->release && cot_id_cmp(&c->release->id, &batch->id) == 0) s->held = false;
    if (!c->patch || cot_id_cmp(&c->patch->id, &batch->id) != 0) return;
    s->fixed += c->patch_plants;
    cot_stand_finish(s, r->shared.confidence);
}

static enum cot_err read_stands(struct reading *r, struct cot_book *b, int32_t on)
{
    enum cot_err err = cot_stand_shared_read(b, on, &r->shared);
    if (err != COT_OK) return err;
    size_t all;
    const struct cot_thing *const *things = cot_book_things(b, COT_THING_BATCH, &all);
    r->out->stand = room(all + 1, sizeof *r->out->stand);
    r->out->batch = room(all + 1, sizeof(const struct cot_thing *));
    r->out->serves = room(all + 1, sizeof *r->out->serves);
    if (!r->out->stand || !r->out->batch || !r->out->serves) return COT_MEMORY;
    for (size_t i = 0; i < all; i++) {
        uint32_t k = r->out->batch_count;
        err = cot_stand_read_with(&r->shared, things[i], &r->out->stand[k]);
        if (err == COT_NOT_FOUND) continue;
        if (err != COT_OK) return err;
        r->out->batch[k] = things[i];
        if (r->change) change_stand(r, things[i], &r->out->stand[k]);
        r->out->batch_count++;
    }
    if (r->change && r->change->batch) {
        r->out->if_batch = r->out->batch_count;
        r->out->stand[r->out->batch_count++] = *r->change->batch;
    }
    return COT_OK;
}

/* --- Which batch may serve which line ------------------------------------------------------------------------------
 */

static bool is_zero(const struct cot_id *id)
{
    static const struct cot_id zero;
    return cot_id_cmp(id, &zero) == 0;
}

static bool in_time(const struct cot_line_in *l, const struct cot_stand *s, int32_t on)
{
    int64_t latest = (int64_t)l->l.date + l->late, earliest = (int64_t)l->l.date - l->early;
    if (earliest < on) earliest = on; /* nothing is collected before today */
    int64_t ready = s->ready != COT_DAY_NONE ? s->ready : s->sown;
    return ready <= latest && (s->past == COT_DAY_NONE || s->past >= earliest);
}

/* 0: own variety; 1 ..: the n-th substitute; -1: neither. */
static int variety_rank(const struct cot_line_in *l, const struct cot_id *variety)
{
    if (l->l.variety && cot_id_cmp(&l->l.variety->id, variety) == 0) return 0;
    for (uint32_t i = 0; i < l->sub_count; i++)
        if (cot_id_cmp(&l->subs[i], variety) == 0) return (int)i + 1;
    return -1;
}

static bool may_serve(const struct cot_line_in *l, const struct cot_stand *s, int32_t on, struct pick *p)
{
    int sub = variety_rank(l, &s->variety);
    if (sub < 0 || s->held || !in_time(l, s, on)) return false;
    if (l->l.format && cot_id_cmp(&l->l.format->id, &s->format) != 0) return false;
    if ((l->untreated && !s->untreated) || (l->organic && !s->organic)) return false;
    bool own = !is_zero(&s->owner);
    if (own ? cot_id_cmp(&s->owner, l->farm_id) != 0 : l->own_seed) return false;
    p->sub = (uint32_t)sub;
    p->own_seed = own;
    p->ready = s->ready;
    p->edge.spare = sub > 0 || (s->organic && !l->organic && !own);
    return true;
}

static int pick_cmp(const void *x, const void *y)
{
    const struct pick *a = x, *b = y;
    if (a->edge.line != b->edge.line) return a->edge.line < b->edge.line ? -1 : 1;
    if (a->edge.spare != b->edge.spare) return a->edge.spare ? 1 : -1;
    if (a->sub != b->sub) return a->sub < b->sub ? -1 : 1;
    if (a->own_seed != b->own_seed) return a->own_seed ? -1 : 1;
    if (a->ready != b->ready) return a->ready < b->ready ? -1 : 1;
    if (a->there != b->there) return a->there < b->there ? -1 : 1;
    return a->edge.batch < b->edge.batch ? -1 : a->edge.batch > b->edge.batch; /* batches are in order of identity */
}

static enum cot_err add_pick(struct reading *r, size_t *cap, const struct pick *p)
{
    if (r->pick_count == *cap) {
        size_t more = *cap ? 2 * *cap : 256;
        struct pick *grown = realloc(r->pick, more * sizeof *grown);
        if (!grown) return COT_MEMORY;
        r->pick = grown;
        *cap = more;
    }
    r->pick[r->pick_count++] = *p;
    return COT_OK;
}

static enum cot_err find_edges(struct reading *r)
{
    size_t cap = 0;
    for (uint32_t i = 0; i < r->lines.line_count; i++) {
        for (uint32_t k = 0; k < r->out->batch_count; k++) {
            const struct cot_stand *s = &r->out->stand[k];
            struct pick p = {.edge = {.line = i, .batch = k}, .there = s->likely - s->out};
            if (!may_serve(&r->lines.line[i], s, r->out->on, &p)) continue;
            if (add_pick(r, &cap, &p) != COT_OK) return COT_MEMORY;
        }
    }
    if (r->pick_count > 1) qsort(r->pick, r->pick_count, sizeof *r->pick, pick_cmp);
    return COT_OK;
}

static enum cot_err build_net(struct reading *r)
{
    size_t claims = r->lines.chunk_count;
    r->edge = room(r->pick_count, sizeof *r->edge);
    r->claim = room(claims, sizeof *r->claim);
    r->supply = room(r->out->batch_count, sizeof *r->supply);
    r->flow = room(r->pick_count, sizeof *r->flow);
    if (!r->edge || !r->claim || !r->supply || !r->flow) return COT_MEMORY;
    for (size_t i = 0; i < r->pick_count; i++) r->edge[i] = r->pick[i].edge;
    for (size_t i = 0; i < claims; i++)
        r->claim[i] = (struct cot_claim){r->lines.chunk[i].line, r->lines.chunk[i].plants};
    r->net = (struct cot_net){
        .lines = r->lines.line_count,
        .batches = r->out->batch_count,
        .edges = r->pick_count,
        .claims = claims,
        .edge = r->edge,
        .claim = r->claim,
    };
    return cot_net_start(&r->net);
}

/* --- The likely supply ----------------------------------------------------------------------------------------------
 */

static enum cot_err share_likely(struct reading *r)
{
    struct cot_fill *out = r->out;
    out->line = room(r->lines.line_count, sizeof *out->line);
    out->allot = room(r->pick_count, sizeof *out->allot);
    if (!out->line || !out->allot) return COT_MEMORY;
    out->line_count = r->lines.line_count;
    for (uint32_t i = 0; i < out->line_count; i++) out->line[i] = r->lines.line[i].l;
    for (uint32_t k = 0; k < out->batch_count; k++) r->supply[k] = out->stand[k].likely - out->stand[k].out;
    cot_net_share(&r->net, r->supply, r->flow);
    for (size_t e = 0; e < r->pick_count; e++) {
        if (r->flow[e] == 0) continue;
        const struct pick *p = &r->pick[e];
        out->allot[out->allot_count++] = (struct cot_allot){
            .line = p->edge.line, .batch = p->edge.batch, .plants = r->flow[e], .substitute = p->sub > 0};
        out->line[p->edge.line].allotted += r->flow[e];
    }
    return COT_OK;
}

/* --- Every possible supply ------------------------------------------------------------------------------------------
 */

/* Plants still to be handed over of each batch in each of the supplies. Batches that no line may have are left at 0. */
static enum cot_err spread_supplies(struct reading *r)
{
    uint32_t batches = r->out->batch_count;
    r->at = room((size_t)batches * N, sizeof *r->at);
    int64_t *level = room(N, sizeof *level);
    uint32_t *group = room(batches, sizeof *group), *rank = room(batches, sizeof *rank);
    bool *wanted = room(batches, sizeof *wanted);
    enum cot_err err = r->at && level && group && rank && wanted ? COT_OK : COT_MEMORY;
    if (err != COT_OK) goto out;
    cot_net_groups(&r->net, group, rank);
    for (size_t e = 0; e < r->pick_count; e++) wanted[r->edge[e].batch] = true;
    for (uint32_t k = 0; k < batches; k++) {
        uint16_t order[N];
        if (!wanted[k]) continue;
        err = cot_stand_levels(&r->out->stand[k], N, level);
        if (err != COT_OK) goto out;
        cot_fill_levels(group[k], rank[k], order);
        for (int i = 0; i < N; i++) r->at[(size_t)k * N + i] = level[order[i]] - r->out->stand[k].out;
    }
out:
    free(level);
    free(group);
    free(rank);
    free(wanted);
    return err;
}

static enum cot_err share_each(struct reading *r)
{
    uint32_t lines = r->out->line_count, batches = r->out->batch_count;
    struct cot_merged m;
    enum cot_err err = cot_merge(&r->net, &m);
    r->total = room((size_t)lines * N, sizeof *r->total);
    if (!r->total) err = COT_MEMORY;
    for (int i = 0; err == COT_OK && i < N; i++) {
        for (uint32_t k = 0; k < m.net.batches; k++) r->supply[k] = 0;
        for (uint32_t k = 0; k < batches; k++) r->supply[m.batch_of[k]] += r->at[(size_t)k * N + i];
        cot_net_share(&m.net, r->supply, r->flow);
        const int64_t *unmet = cot_net_unmet(&m.net);
        for (uint32_t l = 0; l < lines; l++) r->total[(size_t)l * N + i] = r->out->line[l].handed;
        for (size_t c = 0; c < r->net.claims; c++)
            r->total[(size_t)r->claim[c].line * N + i] += r->claim[c].plants - unmet[c];
    }
    cot_merged_free(&m);
    return err;
}

static int int64_cmp(const void *x, const void *y)
{
    int64_t a = *(const int64_t *)x, b = *(const int64_t *)y;
    return a < b ? -1 : a > b;
}

/* The most that at least `confidence` per mille of the N totals reach. Sorts them. */
static int64_t holds(int64_t *total, int32_t confidence)
{
    qsort(total, N, sizeof *total, int64_cmp);
    int64_t enough = ((int64_t)confidence * N + 999) / 1000;
    return total[N - enough];
}

/* --- Lines and farms -------------------------------------------------------------------------------------------------
 */

static void judge(struct cot_fill_line *l, const struct cot_line_in *in, int64_t *total, int32_t confidence)
{
    int full = 0;
    bool unknown = l->wanted == 0 && !in->gone; /* so many trays, of a format that nobody named */
    for (int i = 0; i < N && !unknown; i++) full += total[i] >= l->wanted;
    l->chance = cot_round9((double)full / N);
    l->count_on = holds(total, confidence);
    l->likely = l->handed + l->allotted;
    l->short_by = l->wanted > l->likely ? l->wanted - l->likely : 0;
    l->least_missed = !in->gone && l->likely < in->least;
    if (l->chance >= cot_round9(confidence / 1000.0)) l->verdict = COT_COVERED;
    else l->verdict = l->likely < l->wanted ? COT_SHORT : COT_IN_DOUBT;
}

/* One farm's lines: the sums first, since judging sorts the totals. */
static void judge_farm(struct reading *r, struct cot_fill_farm *f)
{
    int64_t sum[N] = {0};
    int32_t confidence = r->out->confidence;
    for (uint32_t l = f->first_line; l < f->first_line + f->line_count; l++)
        for (int i = 0; i < N; i++) sum[i] += r->total[(size_t)l * N + i];
    f->count_on = holds(sum, confidence);
    for (uint32_t k = f->first_line; k < f->first_line + f->line_count; k++) {
        struct cot_fill_line *l = &r->out->line[k];
        judge(l, &r->lines.line[k], &r->total[(size_t)k * N], confidence);
        f->wanted += l->wanted;
        f->handed += l->handed;
        f->likely += l->likely;
        f->covered += l->verdict == COT_COVERED;
        f->short_ += l->verdict == COT_SHORT;
        f->in_doubt += l->verdict == COT_IN_DOUBT;
    }
}

static enum cot_err judge_all(struct reading *r)
{
    struct cot_fill *out = r->out;
    out->farm = room(out->line_count, sizeof *out->farm);
    if (!out->farm) return COT_MEMORY;
    for (uint32_t l = 0; l < out->line_count;) {
        struct cot_fill_farm *f = &out->farm[out->farm_count++];
        *f = (struct cot_fill_farm){.farm = out->line[l].farm, .first_line = l};
        const struct cot_id *farm = r->lines.line[l].farm_id;
        while (l < out->line_count && cot_id_cmp(r->lines.line[l].farm_id, farm) == 0) l++;
        f->line_count = l - f->first_line;
        judge_farm(r, f);
    }
    return COT_OK;
}

static enum cot_err check_line(struct cot_book *b, const struct cot_if_line *c, struct cot_fault *fault)
{
    if (c->line && (c->line->type != COT_THING_LINE || !cot_book_thing(b, &c->line->id)))
        return cot_fail(fault, COT_INVALID, "what if: not an order line of this house");
    if (c->line && c->line->gone) return cot_fail(fault, COT_INVALID, "what if: the line was withdrawn already");
    if (!c->line && c->withdrawn) return cot_fail(fault, COT_INVALID, "what if: name the line that is withdrawn");
    if (c->withdrawn) return COT_OK;
    if (!c->farm || c->farm->type != COT_THING_FARM) return cot_fail(fault, COT_INVALID, "what if: name a farm");
    if (!c->variety || c->variety->type != COT_THING_VARIETY)
        return cot_fail(fault, COT_INVALID, "what if: name a variety");
    if (c->format && c->format->type != COT_THING_FORMAT)
        return cot_fail(fault, COT_INVALID, "what if: name a tray format, or any");
    if (c->date < COT_DAY_MIN || c->date > COT_DAY_MAX) return cot_fail(fault, COT_INVALID, "what if: no such day");
    if (c->plants < 1 || c->plants > cot_field_row(COT_F_PLANTS)->max)
        return cot_fail(fault, COT_INVALID, "what if: plants from 1 to 10000000");
    if (c->least < 0 || c->least > c->plants)
        return cot_fail(fault, COT_INVALID, "what if: the least worth having is from 0 to the plants wanted");
    if (c->early < 0 || c->early > cot_field_row(COT_F_EARLY)->max || c->late < 0 ||
        c->late > cot_field_row(COT_F_LATE)->max)
        return cot_fail(fault, COT_INVALID, "what if: days earlier and later from 0 to 60");
    if (c->priority < 0 || c->priority > cot_field_row(COT_F_PRIORITY)->max)
        return cot_fail(fault, COT_INVALID, "what if: priority from 1 to 9, or none");
    return COT_OK;
}

static bool no_batch(struct cot_book *b, const struct cot_thing *t)
{
    return t && (t->type != COT_THING_BATCH || !cot_book_thing(b, &t->id));
}

static enum cot_err check_change(struct cot_book *b, const struct cot_what_if *c, struct cot_fault *fault)
{
    if (no_batch(b, c->release) || no_batch(b, c->patch))
        return cot_fail(fault, COT_INVALID, "what if: not a batch of this house");
    if (c->patch && (c->patch_plants < 0 || c->patch_plants > cot_field_row(COT_F_PLANTS)->max))
        return cot_fail(fault, COT_INVALID, "what if: patched plants from 0 to 10000000");
    if (c->other_share && (unsigned)c->share > COT_SHARE_PRORATA)
        return cot_fail(fault, COT_INVALID, "what if: no such rule of sharing");
    return c->line ? check_line(b, c->line, fault) : COT_OK;
}

enum cot_err cot_fill_read(struct cot_book *b, int32_t on, struct cot_fill *out)
{
    return cot_fill_read_if(b, on, NULL, out, NULL);
}

enum cot_err cot_fill_read_if(struct cot_book *b, int32_t on, const struct cot_what_if *change, struct cot_fill *out,
                              struct cot_fault *fault)
{
    struct reading r = {.out = out, .change = change};
    *out = (struct cot_fill){.on = on, .if_line = UINT32_MAX, .if_batch = UINT32_MAX};
    const struct cot_thing *house = cot_book_house(b);
    if (!house) return cot_fail(fault, COT_INVALID, "the book has no house yet: fetch first");
    enum cot_err err = change ? check_change(b, change, fault) : COT_OK;
    if (err != COT_OK) return err;
    out->share = (enum cot_share_rule)cot_thing_int(house, COT_F_SHARE, COT_SHARE_FIRST);
    if (change && change->other_share) out->share = change->share;
    err = read_stands(&r, b, on);
    out->confidence = r.shared.confidence;
    if (err == COT_OK)
        err = cot_lines_read(b, r.shared.handover, r.shared.handover_count, change ? change->line : NULL, &r.lines);
    out->if_line = r.lines.if_line;
    if (err == COT_OK) err = find_edges(&r);
    if (err == COT_OK) err = build_net(&r);
    if (err == COT_OK) err = share_likely(&r);
    if (err == COT_OK) err = spread_supplies(&r);
    if (err == COT_OK) err = share_each(&r);
    if (err == COT_OK) err = judge_all(&r);
    reading_free(&r);
    if (err != COT_OK) cot_fill_free(out);
    if (err == COT_MEMORY) return cot_fail(fault, err, "out of memory");
    return err;
}
