/* Levelling: when not all fit. */
#include <stdlib.h>

#include "plan/level.h"

void cot_lv_lacks(const struct cot_lv *w, struct cot_level *out)
{
    struct cot_lack *open = NULL;
    for (int32_t c = 0; c < w->cells; c++) {
        int64_t spots = w->room[c] >= 0 ? w->load[c] - w->room[c] : 0;
        if (spots <= 0 || c % w->days == 0) open = NULL;
        if (spots <= 0) continue;
        if (!open && out->lacks == COT_LACKS_MOST) {
            out->lacks_more = true;
            return;
        }
        if (!open) {
            open = &out->lack[out->lacks++];
            *open = (struct cot_lack){(uint32_t)(c / w->days), c % w->days, c % w->days, 0};
        }
        open->to = c % w->days;
        if (spots > open->spots) open->spots = spots;
    }
}

static bool stands_over(const struct cot_lv *w, uint32_t batch)
{
    const struct cot_level_batch *b = &w->ask->batch[batch];
    for (uint32_t i = 0; i < b->uses; i++) {
        int32_t from, to, first = (int32_t)b->use[i].resource * w->days;
        if (!b->use[i].amount || !cot_lv_span(w, &b->use[i], w->day[batch], &from, &to)) continue;
        for (int32_t c = first + from; c < first + to; c++)
            if (w->room[c] >= 0 && w->load[c] > w->room[c]) return true;
    }
    return false;
}

static int by_number(const void *a, const void *b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return x < y ? -1 : x > y;
}

static uint32_t batch_of(int64_t key)
{
    return (uint32_t)(key & UINT32_MAX);
}

static void sort_queue(struct cot_lv *w)
{
    for (uint32_t i = 0; i < w->ask->batches; i++)
        w->key[i] = (int64_t)w->ask->batch[i].queue * ((int64_t)UINT32_MAX + 1) + i;
    qsort(w->key, w->ask->batches, sizeof *w->key, by_number);
}

/* In queue order, each on the day where it costs least, if nothing overflows then. */
void cot_lv_put_back(struct cot_lv *w)
{
    sort_queue(w);
    cot_lv_shape(w, 24, cot_lv_peak(w, NULL));
    for (uint32_t i = 0; i < w->ask->batches; i++) {
        struct cot_lv_score least;
        uint32_t b = batch_of(w->key[i]);
        if (w->day[b] >= 0) continue;
        int32_t d = cot_lv_cheapest(w, b, -1, &least);
        if (least.over > 0) continue;
        w->day[b] = d;
        cot_lv_put(w, b, d, 1);
    }
}

/* --- Earlier ones take the place of later ones --- */
static int32_t first_over(const struct cot_lv *w, uint32_t batch, int32_t day)
{
    const struct cot_level_batch *b = &w->ask->batch[batch];
    for (uint32_t i = 0; i < b->uses; i++) {
        int32_t from, to, first = (int32_t)b->use[i].resource * w->days;
        if (!b->use[i].amount || !cot_lv_span(w, &b->use[i], day, &from, &to)) continue;
        for (int32_t c = first + from; c < first + to; c++)
            if (w->room[c] >= 0 && w->load[c] > w->room[c]) return c;
    }
    return -1;
}

/* The batch in place `from` of the queue stands on the day for a trial. Takes off later ones, the last first, until
 * nothing it uses overflows; their days are kept in w->best. Returns how many went, -1: it cannot be. */
static int32_t push_out(struct cot_lv *w, uint32_t from, int32_t day)
{
    uint32_t batch = batch_of(w->key[from]);
    int32_t out = 0, cell;
    while ((cell = first_over(w, batch, day)) >= 0) {
        uint32_t i = w->ask->batches;
        while (--i > from && (w->day[batch_of(w->key[i])] < 0 || !cot_lv_stands(w, batch_of(w->key[i]), cell)))
            continue;
        if (i == from) return -1;
        uint32_t later = batch_of(w->key[i]);
        cot_lv_put(w, later, w->day[later], -1);
        w->day[later] = -1;
        out++;
    }
    return out;
}

static void undo(struct cot_lv *w, uint32_t from)
{
    for (uint32_t i = from + 1; i < w->ask->batches; i++) {
        uint32_t b = batch_of(w->key[i]);
        if (w->day[b] == w->best[b]) continue;
        w->day[b] = w->best[b];
        cot_lv_put(w, b, w->day[b], 1);
    }
}

static void claim(struct cot_lv *w, uint32_t place)
{
    uint32_t batch = batch_of(w->key[place]);
    const struct cot_dayset *days = &w->ask->batch[batch].days;
    int32_t best = -1, fewest = INT32_MAX;
    for (int32_t d = cot_dayset_next(days, 0); d >= 0; d = cot_dayset_next(days, d + 1)) {
        cot_lv_put(w, batch, d, 1);
        int32_t out = push_out(w, place, d);
        if (out >= 0 && out < fewest) fewest = out, best = d;
        undo(w, place);
        cot_lv_put(w, batch, d, -1);
    }
    if (best < 0) return;
    cot_lv_put(w, batch, best, 1);
    push_out(w, place, best);
    w->day[batch] = w->best[batch] = best;
    for (uint32_t i = place + 1; i < w->ask->batches; i++) w->best[batch_of(w->key[i])] = w->day[batch_of(w->key[i])];
}

static void claim_in_order(struct cot_lv *w)
{
    sort_queue(w);
    for (uint32_t i = 0; i < w->ask->batches; i++) w->best[i] = w->day[i];
    for (uint32_t i = 0; i < w->ask->batches; i++)
        if (w->day[batch_of(w->key[i])] < 0) claim(w, i);
}

void cot_lv_give_way(struct cot_lv *w)
{
    sort_queue(w);
    for (uint32_t i = w->ask->batches; i-- > 0;) {
        uint32_t b = batch_of(w->key[i]);
        if (!w->ask->batch[b].queue || !stands_over(w, b)) continue;
        cot_lv_put(w, b, w->day[b], -1);
        w->day[b] = -1;
    }
    claim_in_order(w);
    for (int round = 0; round < 3; round++) {
        cot_lv_shape(w, 24, cot_lv_peak(w, NULL));
        cot_lv_pass(w);
        cot_lv_put_back(w);
    }
}
