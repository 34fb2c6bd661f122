/* Levelling: checks, the workspace, and what comes out. */
#include <string.h>

#include "plan/level.h"

#define EFFORT 4

void cot_level_use(const struct cot_level_ask *ask, const int32_t *day, uint32_t resource, int64_t *use)
{
    struct cot_lv w = {.ask = ask, .days = ask->days};
    memset(use, 0, (size_t)ask->days * sizeof *use);
    for (uint32_t b = 0; b < ask->batches; b++)
        for (uint32_t i = 0; day[b] >= 0 && i < ask->batch[b].uses; i++) {
            const struct cot_use *u = &ask->batch[b].use[i];
            int32_t from, to;
            if (u->resource != resource || !cot_lv_span(&w, u, day[b], &from, &to)) continue;
            for (int32_t d = from; d < to; d++) use[d] += u->amount;
        }
}

/* --- Checks --- */
static enum cot_err check_use(const struct cot_level_ask *a, uint32_t batch, const struct cot_use *u,
                              struct cot_fault *fault)
{
    const char *what = NULL;
    if (u->resource >= a->resources) what = "uses a resource that is not there";
    else if (u->amount < 0 || u->amount > COT_LEVEL_AMOUNT) what = "uses 0 to 1,000,000 spots, not what is given";
    else if (u->from < -1000 || u->from > 1000 || u->to < -1000 || u->to > 1000)
        what = "uses a resource on days that are out of range";
    else if (u->fixed & ~(unsigned)(COT_USE_FROM_DAY | COT_USE_TO_DAY)) what = "has flags that are not known";
    return what ? cot_fail(fault, COT_INVALID, "batch %u %s", (unsigned)batch + 1, what) : COT_OK;
}

static enum cot_err check_batch(const struct cot_level_ask *a, uint32_t i, int64_t *sum, struct cot_fault *fault)
{
    const struct cot_level_batch *b = &a->batch[i];
    int32_t first = cot_dayset_next(&b->days, 0);
    if (first < 0 || cot_dayset_last(&b->days) >= a->days)
        return cot_fail(fault, COT_INVALID, "batch %u has no possible day in the plan, or one after its end",
                        (unsigned)i + 1);
    if (b->standing < -1 || b->standing >= a->days || b->plate < -1 || b->plate >= COT_LEVEL_PLATES)
        return cot_fail(fault, COT_INVALID, "batch %u has a standing day or a plate that is not there",
                        (unsigned)i + 1);
    for (uint32_t k = 0; k < b->uses; k++) {
        enum cot_err err = check_use(a, i, &b->use[k], fault);
        if (err) return err;
        *sum += b->use[k].amount;
    }
    if (*sum > COT_LEVEL_SUM)
        return cot_fail(fault, COT_TOO_LARGE, "the batches together use more spots than can be planned");
    return COT_OK;
}

static enum cot_err check(const struct cot_level_ask *a, struct cot_fault *fault)
{
    int64_t sum = 0;
    if (a->days < 1 || a->days > COT_PLAN_DAYS)
        return cot_fail(fault, COT_INVALID, "a plan covers 1 to %d days, not %d", COT_PLAN_DAYS, (int)a->days);
    if (a->resources > COT_LEVEL_RESOURCES || a->batches > COT_LEVEL_BATCHES)
        return cot_fail(fault, COT_TOO_LARGE, "at most %d resources and %d batches are planned at once",
                        COT_LEVEL_RESOURCES, COT_LEVEL_BATCHES);
    if (a->effort < 0 || a->effort > 1000) return cot_fail(fault, COT_INVALID, "effort is 0 to 1,000 passes");
    for (uint32_t r = 0; r < a->resources; r++)
        for (int32_t d = 0; a->resource[r].room && d < a->days; d++)
            if (a->resource[r].room[d] < -1 || a->resource[r].room[d] > COT_LEVEL_ROOM)
                return cot_fail(fault, COT_INVALID, "resource %u has a room out of range on day %d", (unsigned)r + 1,
                                (int)d);
    for (uint32_t i = 0; i < a->batches; i++) {
        enum cot_err err = check_batch(a, i, &sum, fault);
        if (err) return err;
    }
    return COT_OK;
}

/* --- Workspace --- */
static size_t cells_of(const struct cot_level_ask *ask)
{
    return (size_t)ask->days * ask->resources;
}

size_t cot_level_bytes(const struct cot_level_ask *ask)
{
    return sizeof(struct cot_lv) + (7 * cells_of(ask) + ask->resources) * sizeof(int64_t) +
           (size_t)ask->batches * (sizeof(int64_t) + 3 * sizeof(int32_t)) +
           (size_t)ask->days * (sizeof(int32_t) + COT_LEVEL_PLATES * sizeof(uint16_t));
}

static int64_t *next_cells(int64_t **at, size_t n)
{
    int64_t *mine = *at;
    *at += n;
    return mine;
}

static struct cot_lv *lay_out(const struct cot_level_ask *ask, void *space)
{
    struct cot_lv *w = space;
    size_t cells = cells_of(ask);
    int64_t *at = (int64_t *)(void *)(w + 1);
    *w = (struct cot_lv){.ask = ask, .days = ask->days, .cells = (int32_t)cells, .moves_count = ask->keep_close};
    w->room = next_cells(&at, cells);
    w->load = next_cells(&at, cells);
    w->mark = next_cells(&at, cells);
    w->ratio = next_cells(&at, cells);
    w->kept = next_cells(&at, cells);
    w->reply = next_cells(&at, cells);
    w->price = next_cells(&at, cells + ask->resources);
    w->key = next_cells(&at, ask->batches);
    w->day = (int32_t *)(void *)at;
    w->best = w->day + ask->batches;
    w->order = (uint32_t *)(void *)(w->best + ask->batches);
    w->distinct = (int32_t *)(void *)(w->order + ask->batches);
    w->plates = (uint16_t *)(void *)(w->distinct + ask->days);
    for (uint32_t r = 0; r < ask->resources; r++)
        for (int32_t d = 0; d < ask->days; d++)
            w->room[(int32_t)r * ask->days + d] = ask->resource[r].room ? ask->resource[r].room[d] : -1;
    return w;
}

static void start(struct cot_lv *w)
{
    for (uint32_t i = 0; i < w->ask->batches; i++) {
        const struct cot_level_batch *b = &w->ask->batch[i];
        w->order[i] = i;
        w->day[i] = cot_dayset_next(&b->days, 0);
        if (b->standing >= 0 && cot_dayset_have(&b->days, b->standing)) w->day[i] = b->standing;
    }
}

static void tell(struct cot_lv *w, struct cot_level *out)
{
    int32_t cell;
    out->over = cot_lv_over(w);
    out->peak = cot_lv_peak(w, &cell);
    out->bound = w->bound;
    out->gap = !out->peak ? 0 : !out->bound ? -1 : cot_lv_share(out->peak - out->bound, out->bound);
    if (cell >= 0) {
        out->peak_resource = (uint32_t)(cell / w->days);
        out->peak_day = cell % w->days;
    }
    out->plate_changes = cot_lv_plate_changes(w);
    out->moved = cot_lv_moved(w);
    for (uint32_t i = 0; i < w->ask->batches; i++) {
        out->day[i] = w->day[i];
        if (w->day[i] < 0) out->gave_way++;
        else out->slack += cot_dayset_last(&w->ask->batch[i].days) - w->day[i];
    }
}

enum cot_err cot_level_plan(const struct cot_level_ask *ask, void *space, struct cot_level *out,
                            struct cot_fault *fault)
{
    enum cot_err err = check(ask, fault);
    *out = (struct cot_level){.day = out->day, .peak_day = -1};
    if (err) return err;
    struct cot_lv *w = lay_out(ask, space);
    int32_t effort = ask->effort ? ask->effort : EFFORT;
    start(w);
    cot_lv_search(w, effort);
    if (cot_lv_over(w) > 0) {
        cot_lv_lacks(w, out);
        cot_lv_give_way(w);
        w->bound = 0;
        cot_lv_search(w, (effort + 1) / 2); /* the bound of fewer batches holds when some come back */
        cot_lv_put_back(w);
    }
    cot_lv_tidy(w);
    if (out->lacks) cot_lv_put_back(w);
    tell(w, out);
    return COT_OK;
}
