/* A change held against the fill as it stands: whose line moves, for better or worse. */
#include <stdlib.h>

#include "remedy/in.h"

void cot_beside_start(const struct cot_fill *before, const struct cot_fill *after, const struct cot_what_if *change,
                      struct cot_beside *out)
{
    *out = (struct cot_beside){.before = before, .after = after};
    if (change && change->line) out->changed = change->line->line;
}

static uint32_t find(const struct cot_fill *f, const struct cot_thing *line)
{
    for (uint32_t i = 0; i < f->line_count; i++)
        if (f->line[i].line == line) return i;
    return COT_NO_LINE;
}

/* The line of the what-if is told where it stood, or last when it is new; where it turns up after the change it is
 * passed over, so that the others stay side by side. */
bool cot_beside_next(struct cot_beside *w, uint32_t *before, uint32_t *after)
{
    const struct cot_fill *b = w->before, *a = w->after;
    *before = *after = COT_NO_LINE;
    while (w->next_after < a->line_count &&
           (w->next_after == a->if_line || (w->changed && a->line[w->next_after].line == w->changed)))
        w->next_after++;
    if (w->next_before < b->line_count) {
        *before = w->next_before++;
        bool changed = w->changed && b->line[*before].line == w->changed;
        if (changed) *after = find(a, w->changed);
        else if (w->next_after < a->line_count) *after = w->next_after++;
        w->told = w->told || changed;
        return true;
    }
    if (w->told || a->if_line >= a->line_count) return false;
    w->told = true;
    *after = a->if_line;
    return true;
}

/* How bad a verdict is. */
static int badness(const struct cot_fill_line *l)
{
    return l->verdict == COT_COVERED ? 0 : l->verdict == COT_IN_DOUBT ? 1 : 2;
}

void cot_beside_count(const struct cot_fill *before, const struct cot_fill *after, uint32_t i, uint32_t k, bool own,
                      uint32_t *rescued, uint32_t *harmed)
{
    if (i == COT_NO_LINE || k == COT_NO_LINE) return;
    int was = badness(&before->line[i]), is = badness(&after->line[k]);
    if (was > 0 && is == 0) ++*rescued;
    if (is > was && !own) ++*harmed;
}

static bool moves(const struct cot_effect *e, uint32_t i, uint32_t k, bool own)
{
    if (own || i == COT_NO_LINE || k == COT_NO_LINE) return true;
    const struct cot_fill_line *x = &e->before.line[i], *y = &e->after.line[k];
    return x->verdict != y->verdict || x->likely != y->likely || x->count_on != y->count_on;
}

static bool of_farm(const struct cot_effect *e, uint32_t i, uint32_t k, const struct cot_id *farm)
{
    const struct cot_fill_line *l = k != COT_NO_LINE ? &e->after.line[k] : &e->before.line[i];
    return !farm || (l->farm && cot_id_cmp(&l->farm->id, farm) == 0);
}

static enum cot_err compare(struct cot_effect *e, const struct cot_what_if *change, const struct cot_id *farm)
{
    struct cot_beside w;
    uint32_t i, k;
    e->moved = calloc((size_t)e->before.line_count + 1, sizeof *e->moved);
    if (!e->moved) return COT_MEMORY;
    cot_beside_start(&e->before, &e->after, change, &w);
    while (cot_beside_next(&w, &i, &k)) {
        bool own = change && change->line &&
                   (i == COT_NO_LINE || (change->line->line && e->before.line[i].line == change->line->line));
        if (own && change->line->withdrawn && k != COT_NO_LINE && e->after.line[k].wanted == 0) k = COT_NO_LINE;
        if (!of_farm(e, i, k, farm)) continue;
        cot_beside_count(&e->before, &e->after, i, k, own, &e->rescued, &e->harmed);
        if (moves(e, i, k, own)) e->moved[e->moved_count++] = (struct cot_moved){i, k};
    }
    return COT_OK;
}

enum cot_err cot_effect_read(struct cot_book *b, int32_t on, const struct cot_what_if *change,
                             const struct cot_id *farm, struct cot_effect *out, struct cot_fault *fault)
{
    *out = (struct cot_effect){0};
    enum cot_err err = cot_fill_read_if(b, on, NULL, &out->before, fault);
    if (err == COT_OK) err = cot_fill_read_again(b, &out->before, on, change, &out->after, fault);
    if (err == COT_OK && compare(out, change, farm) != COT_OK) err = cot_fail(fault, COT_MEMORY, "out of memory");
    if (err != COT_OK) cot_effect_free(out);
    return err;
}

void cot_effect_free(struct cot_effect *e)
{
    cot_fill_free(&e->before);
    cot_fill_free(&e->after);
    free(e->moved);
    *e = (struct cot_effect){0};
}
