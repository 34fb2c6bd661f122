/* Levelling: fewer plate changes and longer slack under the peak that was found. */
#include <string.h>

#include "plan/level.h"

#define PASSES 8

struct gain { /* the less the better, in this order */
    int64_t moved, changes, later;
};

static bool less(const struct gain *a, const struct gain *b)
{
    if (a->moved != b->moved) return a->moved < b->moved;
    if (a->changes != b->changes) return a->changes < b->changes;
    return a->later < b->later;
}

static uint16_t *batches_of_plate(const struct cot_lv *w, int32_t day, int32_t plate)
{
    return &w->plates[(size_t)day * COT_LEVEL_PLATES + (size_t)plate];
}

static void count_plate(struct cot_lv *w, uint32_t batch, int32_t day, int sign)
{
    int32_t plate = w->ask->batch[batch].plate;
    if (plate < 0) return;
    uint16_t *n = batches_of_plate(w, day, plate);
    if (sign > 0 && !(*n)++) w->distinct[day]++;
    if (sign < 0 && !--(*n)) w->distinct[day]--;
}

static void count_plates(struct cot_lv *w)
{
    memset(w->plates, 0, (size_t)w->days * COT_LEVEL_PLATES * sizeof *w->plates);
    memset(w->distinct, 0, (size_t)w->days * sizeof *w->distinct);
    for (uint32_t i = 0; i < w->ask->batches; i++)
        if (w->day[i] >= 0) count_plate(w, i, w->day[i], 1);
}

int64_t cot_lv_plate_changes(struct cot_lv *w)
{
    int64_t n = 0;
    count_plates(w);
    for (int32_t d = 0; d < w->days; d++)
        if (w->distinct[d] > 1) n += w->distinct[d] - 1;
    return n;
}

/* No room gets fuller than the peak allows, nor over its room, where it is not already. */
static void set_caps(struct cot_lv *w)
{
    int64_t peak = cot_lv_peak(w, NULL);
    for (int32_t c = 0; c < w->cells; c++) {
        int64_t cap = w->room[c];
        if (w->ask->resource[c / w->days].levelled && peak < COT_LV_MILLION) cap = w->room[c] * peak / COT_LV_MILLION;
        w->mark[c] = w->room[c] < 0 ? INT64_MAX : cap > w->load[c] ? cap : w->load[c];
    }
}

/* Where a batch is taken off, its own cell may be filled again up to what it was. */
static bool under_caps(const struct cot_lv *w, uint32_t batch, int32_t day)
{
    const struct cot_level_batch *b = &w->ask->batch[batch];
    for (uint32_t i = 0; i < b->uses; i++) {
        int32_t from, to, first = (int32_t)b->use[i].resource * w->days;
        if (!cot_lv_span(w, &b->use[i], day, &from, &to)) continue;
        for (int32_t c = first + from; c < first + to; c++)
            if (w->load[c] > w->mark[c]) return false;
    }
    return true;
}

static struct gain gain_of(const struct cot_lv *w, uint32_t batch, int32_t day)
{
    const struct cot_level_batch *b = &w->ask->batch[batch];
    struct gain g = {w->moves_count && b->standing >= 0 && b->standing != day, 0, day};
    if (b->plate >= 0) g.changes = !*batches_of_plate(w, day, b->plate) && w->distinct[day] > 0;
    return g;
}

static bool tidy_one(struct cot_lv *w, uint32_t batch)
{
    const struct cot_dayset *days = &w->ask->batch[batch].days;
    int32_t was = w->day[batch], best = was;
    cot_lv_put(w, batch, was, -1);
    count_plate(w, batch, was, -1);
    struct gain least = gain_of(w, batch, was);
    for (int32_t d = cot_dayset_next(days, 0); d >= 0; d = cot_dayset_next(days, d + 1)) {
        struct gain g = gain_of(w, batch, d);
        if (!less(&g, &least)) continue;
        cot_lv_put(w, batch, d, 1);
        if (under_caps(w, batch, d)) least = g, best = d;
        cot_lv_put(w, batch, d, -1);
    }
    cot_lv_put(w, batch, best, 1);
    count_plate(w, batch, best, 1);
    w->day[batch] = best;
    return best != was;
}

/* --- Two batches change places --- */
static int64_t changes_on(const struct cot_lv *w, int32_t day)
{
    return w->distinct[day] > 1 ? w->distinct[day] - 1 : 0;
}

static void shift(struct cot_lv *w, uint32_t batch, int32_t to)
{
    cot_lv_put(w, batch, w->day[batch], -1);
    count_plate(w, batch, w->day[batch], -1);
    w->day[batch] = to;
    cot_lv_put(w, batch, to, 1);
    count_plate(w, batch, to, 1);
}

static bool may_go(const struct cot_lv *w, uint32_t batch, int32_t day)
{
    const struct cot_level_batch *b = &w->ask->batch[batch];
    if (!cot_dayset_have(&b->days, day)) return false;
    return !w->moves_count || b->standing < 0 || b->standing != w->day[batch];
}

static bool try_swap(struct cot_lv *w, uint32_t a, uint32_t b)
{
    int32_t of_a = w->day[a], of_b = w->day[b];
    int64_t before = changes_on(w, of_a) + changes_on(w, of_b);
    shift(w, a, of_b);
    shift(w, b, of_a);
    if (changes_on(w, of_a) + changes_on(w, of_b) < before && under_caps(w, a, of_b) && under_caps(w, b, of_a))
        return true;
    shift(w, a, of_a);
    shift(w, b, of_b);
    return false;
}

/* To a day on which its plate is on anyway, for one with another plate. */
static bool swap_one(struct cot_lv *w, uint32_t a)
{
    const struct cot_level_batch *batch = w->ask->batch;
    int32_t plate = batch[a].plate, was = w->day[a];
    if (plate < 0 || w->distinct[was] < 2 || *batches_of_plate(w, was, plate) > 1) return false;
    for (uint32_t b = 0; b < w->ask->batches; b++) {
        int32_t d = w->day[b];
        if (d < 0 || d == was || batch[b].plate == plate || !*batches_of_plate(w, d, plate)) continue;
        if (may_go(w, a, d) && may_go(w, b, was) && try_swap(w, a, b)) return true;
    }
    return false;
}

void cot_lv_tidy(struct cot_lv *w)
{
    bool moved = true;
    count_plates(w);
    set_caps(w);
    for (int pass = 0; moved && pass < PASSES; pass++) {
        moved = false;
        for (uint32_t i = 0; i < w->ask->batches; i++)
            if (w->day[i] >= 0) moved |= tidy_one(w, i) || swap_one(w, i);
    }
}
