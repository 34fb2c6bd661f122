/* Which batch may serve which line, and which serves it first. */
#include <stdlib.h>

#include "fill/reading.h"

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

static bool may_serve(const struct cot_line_in *l, const struct cot_stand *s, int32_t on, struct cot_pick *p)
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
    const struct cot_pick *a = x, *b = y;
    if (a->edge.line != b->edge.line) return a->edge.line < b->edge.line ? -1 : 1;
    if (a->edge.spare != b->edge.spare) return a->edge.spare ? 1 : -1;
    if (a->sub != b->sub) return a->sub < b->sub ? -1 : 1;
    if (a->own_seed != b->own_seed) return a->own_seed ? -1 : 1;
    if (a->ready != b->ready) return a->ready < b->ready ? -1 : 1;
    if (a->there != b->there) return a->there < b->there ? -1 : 1;
    return a->edge.batch < b->edge.batch ? -1 : a->edge.batch > b->edge.batch; /* batches are in order of identity */
}

static enum cot_err add_pick(struct cot_reading *r, size_t *cap, const struct cot_pick *p)
{
    if (r->pick_count == *cap) {
        size_t more = *cap ? 2 * *cap : 256;
        struct cot_pick *grown = realloc(r->pick, more * sizeof *grown);
        if (!grown) return COT_MEMORY;
        r->pick = grown;
        *cap = more;
    }
    r->pick[r->pick_count++] = *p;
    return COT_OK;
}

enum cot_err cot_find_picks(struct cot_reading *r)
{
    size_t cap = 0;
    for (uint32_t i = 0; i < r->lines.line_count; i++) {
        for (uint32_t k = 0; k < r->out->batch_count; k++) {
            const struct cot_stand *s = &r->out->stand[k];
            struct cot_pick p = {.edge = {.line = i, .batch = k}, .there = s->likely - s->out};
            if (!may_serve(&r->lines.line[i], s, r->out->on, &p)) continue;
            if (add_pick(r, &cap, &p) != COT_OK) return COT_MEMORY;
        }
    }
    if (r->pick_count > 1) qsort(r->pick, r->pick_count, sizeof *r->pick, pick_cmp);
    return COT_OK;
}
