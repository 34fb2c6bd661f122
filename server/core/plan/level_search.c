/* Levelling: batches go to the day where they cost least, again and again, while high use grows dearer. */
#include <string.h>

#include "plan/level.h"

#define BOUND_ROUNDS 10
#define KICKS 4 /* passes after kicks, and more of them where a pass is short */
#define KICKS_FEW 2000

static uint64_t dice(struct cot_lv *w) /* SplitMix64 */
{
    uint64_t z = (w->dice += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

static void shuffle(struct cot_lv *w)
{
    for (uint32_t i = w->ask->batches; i > 1; i--) {
        uint32_t j = (uint32_t)(dice(w) % i), t = w->order[j];
        w->order[j] = w->order[i - 1];
        w->order[i - 1] = t;
    }
}

/* The batch is not in the load. Of equal days the one it is on, else the first. */
int32_t cot_lv_cheapest(struct cot_lv *w, uint32_t batch, int32_t stays, struct cot_lv_score *least)
{
    const struct cot_dayset *days = &w->ask->batch[batch].days;
    int32_t best = stays;
    *least = (struct cot_lv_score){INT64_MAX, 0, 0};
    if (stays >= 0) *least = cot_lv_would(w, batch, stays);
    for (int32_t d = cot_dayset_next(days, 0); d >= 0; d = cot_dayset_next(days, d + 1)) {
        if (d == stays) continue;
        struct cot_lv_score s = cot_lv_would(w, batch, d);
        if (cot_lv_less(&s, least)) *least = s, best = d;
    }
    return best;
}

static bool settle(struct cot_lv *w, uint32_t batch)
{
    struct cot_lv_score least;
    int32_t was = w->day[batch];
    cot_lv_put(w, batch, was, -1);
    w->day[batch] = cot_lv_cheapest(w, batch, was, &least);
    cot_lv_put(w, batch, w->day[batch], 1);
    return w->day[batch] != was;
}

uint32_t cot_lv_pass(struct cot_lv *w)
{
    uint32_t moved = 0;
    shuffle(w);
    for (uint32_t i = 0; i < w->ask->batches; i++) {
        uint32_t b = w->order[i];
        if (w->day[b] >= 0 && cot_dayset_count(&w->ask->batch[b].days) > 1) moved += settle(w, b);
    }
    return moved;
}

/* --- The best so far --- */
struct best {
    int64_t over, moved, peak;
};

static struct best now(const struct cot_lv *w)
{
    return (struct best){cot_lv_over(w), w->moves_count ? cot_lv_moved(w) : 0, cot_lv_peak(w, NULL)};
}

static bool better(const struct best *a, const struct best *b)
{
    if (a->over != b->over) return a->over < b->over;
    if (a->moved != b->moved) return a->moved < b->moved;
    return a->peak < b->peak;
}

static void keep_if_better(struct cot_lv *w, struct best *best)
{
    struct best b = now(w);
    if (!better(&b, best)) return;
    *best = b;
    memcpy(w->best, w->day, w->ask->batches * sizeof *w->day);
}

/* One as good as the best takes its place: so the kicks wander. */
static bool keep_unless_worse(struct cot_lv *w, struct best *best)
{
    struct best b = now(w);
    if (better(best, &b)) return false;
    *best = b;
    memcpy(w->best, w->day, w->ask->batches * sizeof *w->day);
    return true;
}

static void back_to_best(struct cot_lv *w)
{
    memcpy(w->day, w->best, w->ask->batches * sizeof *w->day);
    cot_lv_reload(w);
}

static void descend(struct cot_lv *w, int32_t effort, struct best *best)
{
    for (int p = 3; p <= 200; p *= 2) {
        for (int32_t i = 0; i < effort; i++) {
            cot_lv_shape(w, p, cot_lv_peak(w, NULL));
            uint32_t moved = cot_lv_pass(w);
            keep_if_better(w, best);
            if (moved * 100 < w->ask->batches) break;
        }
        cot_lv_bound_here(w, p);
    }
}

/* --- Kicks: what stands on the worst day is moved, and the rest settles around it --- */
/* The fullest; or, where rooms overflow, any that does. */
static int32_t worst_cell(struct cot_lv *w, const struct best *b)
{
    int32_t cell = -1;
    uint64_t over = 0;
    if (b->over == 0) cot_lv_peak(w, &cell);
    for (int32_t c = 0; b->over > 0 && c < w->cells; c++)
        if (w->room[c] >= 0 && w->load[c] > w->room[c] && dice(w) % ++over == 0) cell = c;
    return cell;
}

static void move_anywhere(struct cot_lv *w, uint32_t batch)
{
    const struct cot_dayset *days = &w->ask->batch[batch].days;
    int32_t skip = (int32_t)(dice(w) % (uint64_t)cot_dayset_count(days)), d = cot_dayset_next(days, 0);
    while (skip-- > 0) d = cot_dayset_next(days, d + 1);
    cot_lv_put(w, batch, w->day[batch], -1);
    w->day[batch] = d;
    cot_lv_put(w, batch, d, 1);
}

/* Mostly what stands on the worst day, now and then anything. */
static void kick(struct cot_lv *w, const struct best *best)
{
    int32_t cell = worst_cell(w, best);
    bool any = dice(w) % 3 == 0;
    uint32_t movable = 0;
    for (uint32_t i = 0; cell >= 0 && i < w->ask->batches; i++)
        if (w->day[i] >= 0 && cot_dayset_count(&w->ask->batch[i].days) > 1 && (any || cot_lv_stands(w, i, cell)))
            w->key[movable++] = i;
    for (uint64_t n = 1 + dice(w) % 4; movable > 0 && n > 0; n--) move_anywhere(w, (uint32_t)w->key[dice(w) % movable]);
}

static bool good_enough(const struct cot_lv *w, const struct best *b)
{
    return b->over == 0 && (b->peak - w->bound) * 1000 <= b->peak;
}

static void try_kicks(struct cot_lv *w, int32_t passes, struct best *best)
{
    for (int32_t i = 0; i < passes && !good_enough(w, best); i += 2) {
        kick(w, best);
        cot_lv_shape(w, i % 4 ? 96 : 24, best->peak);
        cot_lv_pass(w);
        cot_lv_pass(w);
        if (!keep_unless_worse(w, best)) back_to_best(w);
    }
}

void cot_lv_search(struct cot_lv *w, int32_t effort)
{
    struct best best;
    cot_lv_reload(w);
    best = now(w);
    memcpy(w->best, w->day, w->ask->batches * sizeof *w->day);
    descend(w, effort, &best);
    back_to_best(w);
    cot_lv_bound_more(w, BOUND_ROUNDS * effort);
    int32_t few = (best.over > 0 ? 4 : 1) * KICKS_FEW / (int32_t)(w->ask->batches + 1);
    try_kicks(w, effort * (KICKS + few), &best);
    back_to_best(w);
}
