/* From what each line gets in every possible supply: chances, numbers to count on, verdicts, farms. */
#include <stdlib.h>

#include "cotyledger/core/prob.h"
#include "fill/reading.h"

#define N COT_FILL_LEVELS

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

static double share_without(const bool *lacking)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < N; i++) n += !lacking[i];
    return cot_round9((double)n / N);
}

static void judge_line(struct cot_reading *r, uint32_t i)
{
    struct cot_fill_line *l = &r->out->line[i];
    const struct cot_line_in *in = &r->lines.line[i];
    const struct cot_prospect *p = &r->prospect[i];
    int32_t confidence = r->out->confidence;
    bool unknown = l->wanted == 0 && !in->gone; /* so many trays, of a format that nobody named */
    bool all = l->handed + r->wish[i].need >= l->wanted;
    l->chance = unknown || !all ? 0 : p->full;
    l->count_on = l->handed + p->holds;
    l->likely = l->handed + l->allotted;
    l->short_by = l->wanted > l->likely ? l->wanted - l->likely : 0;
    l->least_missed = !in->gone && l->likely < in->least;
    if (l->chance >= cot_round9(confidence / 1000.0)) l->verdict = COT_COVERED;
    else l->verdict = l->likely < l->wanted ? COT_SHORT : COT_IN_DOUBT;
    if (l->chance == 0) r->farm.never[r->farm_of[i]] = true;
}

static void judge_farm(struct cot_reading *r, uint32_t k)
{
    struct cot_fill_farm *f = &r->out->farm[k];
    int64_t *sum = r->farm.sum + (size_t)k * N;
    for (uint32_t i = f->first_line; i < f->first_line + f->line_count; i++) {
        const struct cot_fill_line *l = &r->out->line[i];
        f->wanted += l->wanted;
        f->handed += l->handed;
        f->likely += l->likely;
        f->extra += l->extra;
        f->misses += 1 - l->chance;
        f->covered += l->verdict == COT_COVERED;
        f->short_ += l->verdict == COT_SHORT;
        f->in_doubt += l->verdict == COT_IN_DOUBT;
    }
    f->misses = cot_round9(f->misses);
    f->count_on = f->handed + r->farm.base[k] + holds(sum, r->out->confidence);
    f->chance = r->farm.never[k] ? 0 : share_without(r->farm.lacking + (size_t)k * N);
    for (uint32_t b = 0; b < r->out->batch_count; b++)
        if (f->farm && !r->out->stand[b].held && cot_id_cmp(&r->out->stand[b].owner, &f->farm->id) == 0)
            f->own_left += r->out->serves[b].left;
}

static void judge_batch(struct cot_reading *r, uint32_t b)
{
    struct cot_fill_batch *s = &r->out->serves[b];
    const struct cot_stand *t = &r->out->stand[b];
    s->count_on = t->count_on > t->out ? t->count_on - t->out : 0;
    s->chance = cot_round9((double)(N - r->batch_lacking[b]) / N);
}

void cot_fill_judge(struct cot_reading *r)
{
    struct cot_fill *out = r->out;
    for (uint32_t i = 0; i < out->line_count; i++) judge_line(r, i);
    if (r->from) return; /* asked for lines alone */
    for (uint32_t b = 0; b < out->batch_count; b++) judge_batch(r, b);
    for (uint32_t k = 0; k < out->farm_count; k++) {
        judge_farm(r, k);
        out->misses += out->farm[k].misses;
    }
    out->misses = cot_round9(out->misses);
}
