/* Lines of one variety, format and seed class into few batches, and those to seed lots. */
#include <string.h>

#include "cotyledger/core/plan.h"

#define NOWHERE UINT32_MAX
#define PASSES 3 /* over the lines, looking for a better group for each */

struct cluster { /* the lines that one sowing day serves */
    struct cot_dayset days;
    int64_t plants, trays;
};
struct work {
    const struct cot_group_ask *ask;
    struct cot_group *out;
    struct cot_fault *fault;
    struct cluster *cluster;
    uint32_t clusters;
    int64_t *left;   /* seeds of each lot; -1: no limit */
    int64_t *plants; /* of each line that no batch is sown for yet */
    uint32_t *of;    /* cluster of each line */
    void *hit;
};

size_t cot_group_bytes(uint32_t lines)
{
    return COT_PLAN_DAYS * sizeof(struct cluster) + COT_GROUP_LOTS * sizeof(int64_t) +
           (size_t)lines * (sizeof(int64_t) + sizeof(struct cot_dayset) + sizeof(uint32_t)) + cot_hit_bytes(lines);
}

static enum cot_err check(const struct cot_group_ask *a, struct cot_fault *fault)
{
    if (a->lines > COT_HIT_ROWS || a->lots > COT_GROUP_LOTS)
        return cot_fail(fault, COT_TOO_LARGE, "at most %d lines and %d lots are grouped at once", COT_HIT_ROWS,
                        COT_GROUP_LOTS);
    if (a->most_trays < 0) return cot_fail(fault, COT_INVALID, "trays of a batch are limited to less than none");
    for (uint32_t i = 0; i < a->lines; i++)
        if (a->line[i].plants < 1 || a->line[i].plants > 10000000)
            return cot_fail(fault, COT_INVALID, "line %u wants %lld plants; 1 to 10,000,000 can be planned", i + 1,
                            (long long)a->line[i].plants);
    for (uint32_t i = 0; i < a->lots; i++)
        if (a->lot[i].seeds < -1) return cot_fail(fault, COT_INVALID, "lot %u has less than no seed", i + 1);
    return COT_OK;
}

static enum cot_err ask_trays(struct work *w, uint32_t lot, int64_t plants, int64_t *trays)
{
    *trays = plants > 0 ? w->ask->trays(w->ask->ctx, lot, plants) : 0;
    if (*trays >= 0 && (*trays > 0 || plants == 0)) return COT_OK;
    return cot_fail(w->fault, COT_INVALID, "no number of trays gives %lld plants", (long long)plants);
}

static uint32_t usual_lot(const struct work *w)
{
    return w->ask->lots ? 0 : COT_LOT_BUY;
}

/* --- Clusters --- */
static struct cot_dayset days_without(const struct work *w, uint32_t cluster, uint32_t line)
{
    struct cot_dayset all;
    memset(&all, 0xff, sizeof all);
    for (uint32_t i = 0; i < w->ask->lines; i++)
        if (w->of[i] == cluster && i != line) cot_dayset_both(&all, &w->ask->line[i].days);
    return all;
}

static enum cot_err make_clusters(struct work *w)
{
    const struct cot_dayset *chosen = &w->out->fewest.chosen;
    uint32_t of_day[COT_PLAN_DAYS];
    for (int32_t d = cot_dayset_next(chosen, 0); d >= 0; d = cot_dayset_next(chosen, d + 1)) {
        of_day[d] = w->clusters;
        w->cluster[w->clusters++] = (struct cluster){0};
    }
    for (uint32_t i = 0; i < w->ask->lines; i++) {
        struct cot_dayset mine = w->ask->line[i].days;
        cot_dayset_both(&mine, chosen);
        w->of[i] = cot_dayset_empty(&mine) ? NOWHERE : of_day[cot_dayset_next(&mine, 0)];
        if (w->of[i] == NOWHERE) w->out->hopeless++;
        else w->cluster[w->of[i]].plants += w->ask->line[i].plants;
    }
    for (uint32_t c = 0; c < w->clusters; c++) {
        struct cluster *k = &w->cluster[c];
        enum cot_err err = ask_trays(w, usual_lot(w), k->plants, &k->trays);
        if (err) return err;
        k->days = days_without(w, c, NOWHERE);
    }
    return COT_OK;
}

/* Moves the line where fewer trays are needed then, or as many and more days are left to choose from. */
static enum cot_err try_move(struct work *w, uint32_t line, uint32_t to, struct cot_dayset alone, bool *moved)
{
    struct cluster *from = &w->cluster[w->of[line]], *into = &w->cluster[to];
    const struct cot_group_line *l = &w->ask->line[line];
    struct cot_dayset joined = into->days;
    int64_t less, more;
    enum cot_err err = ask_trays(w, usual_lot(w), from->plants - l->plants, &less);
    if (!err) err = ask_trays(w, usual_lot(w), into->plants + l->plants, &more);
    if (err) return err;
    cot_dayset_both(&joined, &l->days);
    int64_t trays = less + more - from->trays - into->trays;
    int32_t days = cot_dayset_count(&alone) + cot_dayset_count(&joined) - cot_dayset_count(&from->days) -
                   cot_dayset_count(&into->days);
    if (trays > 0 || (trays == 0 && days <= 0)) return COT_OK;
    *from = (struct cluster){alone, from->plants - l->plants, less};
    *into = (struct cluster){joined, into->plants + l->plants, more};
    w->of[line] = to;
    *moved = true;
    return COT_OK;
}

static enum cot_err improve(struct work *w)
{
    bool moved = true;
    for (int pass = 0; moved && pass < PASSES; pass++) {
        moved = false;
        for (uint32_t i = 0; i < w->ask->lines; i++)
            for (uint32_t c = 0; w->of[i] != NOWHERE && c < w->clusters; c++) {
                if (c == w->of[i] || !cot_dayset_meet(&w->ask->line[i].days, &w->cluster[c].days)) continue;
                if (w->cluster[w->of[i]].plants == w->ask->line[i].plants) continue; /* fewest days: none falls empty */
                enum cot_err err = try_move(w, i, c, days_without(w, w->of[i], i), &moved);
                if (err) return err;
            }
    }
    return COT_OK;
}

/* --- Lots --- */
struct taking { /* from a lot, for what a cluster still wants */
    uint32_t lot;
    int64_t seeds; /* it has; -1: no limit */
    int64_t trays, used;
};

static enum cot_err fits(struct work *w, struct taking *t, int64_t plants, bool *yes)
{
    enum cot_err err = ask_trays(w, t->lot, plants, &t->trays);
    if (err) return err;
    t->used = w->ask->seeds(w->ask->ctx, t->lot, t->trays);
    if (t->used < 0) return cot_fail(w->fault, COT_INVALID, "seeds for %lld trays are not known", (long long)t->trays);
    *yes = (t->seeds < 0 || t->used <= t->seeds) && (!w->ask->most_trays || t->trays <= w->ask->most_trays);
    return COT_OK;
}

/* The most plants, up to `wanted`, for which lot and limit do; 0: none. Leaves trays and seeds of them in *t. */
static enum cot_err most_plants(struct work *w, struct taking *t, int64_t wanted, int64_t *plants)
{
    int64_t low = 0, high = wanted + 1; /* low does, high does not */
    bool yes = false;
    enum cot_err err = fits(w, t, wanted, &yes);
    if (err) return err;
    if (yes) low = wanted;
    while (!err && high - low > 1 && low < wanted) {
        int64_t mid = low + (high - low) / 2;
        err = fits(w, t, mid, &yes);
        if (yes) low = mid;
        else high = mid;
    }
    *plants = low;
    if (!err && low > 0) err = fits(w, t, low, &yes);
    return err;
}

static enum cot_err add_part(struct work *w, struct cot_group_batch *b, uint32_t line, int64_t plants)
{
    struct cot_group *out = w->out;
    if (out->parts == out->part_room)
        return cot_fail(w->fault, COT_TOO_LARGE, "more parts of lines than there is room");
    out->part[out->parts++] = (struct cot_group_part){line, plants};
    b->parts++;
    w->plants[line] -= plants;
    return COT_OK;
}

static enum cot_err add_batch(struct work *w, uint32_t cluster, const struct cot_dayset *days, const struct taking *t,
                              int64_t plants)
{
    struct cot_group *out = w->out;
    if (out->batches == out->batch_room) return cot_fail(w->fault, COT_TOO_LARGE, "more batches than there is room");
    struct cot_group_batch *b = &out->batch[out->batches++];
    *b = (struct cot_group_batch){*days, t->lot, plants, t->trays, t->used, 0, out->parts, 0};
    if (t->trays == 1 && w->ask->rows) b->rows = w->ask->rows(w->ask->ctx, t->lot, plants);
    for (uint32_t i = 0; plants > 0 && i < w->ask->lines; i++) {
        if (w->of[i] != cluster || !w->plants[i]) continue;
        int64_t some = w->plants[i] < plants ? w->plants[i] : plants;
        enum cot_err err = add_part(w, b, i, some);
        if (err) return err;
        plants -= some;
    }
    return COT_OK;
}

/* A rest of seed that saves no tray stays where it is. */
static enum cot_err worth_it(struct work *w, uint32_t lot, int64_t wanted, int64_t plants, bool *worth)
{
    int64_t all = 1, rest = 0;
    enum cot_err err = COT_OK;
    if (plants < wanted) err = ask_trays(w, lot, wanted, &all);
    if (!err && plants < wanted) err = ask_trays(w, lot, wanted - plants, &rest);
    *worth = rest < all;
    return err;
}

static enum cot_err take_from(struct work *w, uint32_t cluster, uint32_t lot, int64_t *wanted)
{
    bool buy = lot == w->ask->lots;
    struct cot_dayset days = w->cluster[cluster].days, until = {0};
    cot_dayset_range(&until, 0, buy ? COT_PLAN_DAYS : w->ask->lot[lot].last);
    cot_dayset_both(&days, &until);
    while (*wanted > 0 && !cot_dayset_empty(&days)) {
        struct taking t = {.lot = buy ? COT_LOT_BUY : lot, .seeds = buy ? -1 : w->left[lot]};
        int64_t plants = 0;
        bool worth = true;
        enum cot_err err = most_plants(w, &t, *wanted, &plants);
        if (!err && plants > 0 && !buy) err = worth_it(w, t.lot, *wanted, plants, &worth);
        if (!err && plants == 0 && buy)
            return cot_fail(w->fault, COT_INVALID, "one plant takes more than the %lld trays allowed to a batch",
                            (long long)w->ask->most_trays);
        if (err || plants == 0 || !worth) return err;
        err = add_batch(w, cluster, &days, &t, plants);
        if (err) return err;
        if (!buy && w->left[lot] >= 0) w->left[lot] -= t.used;
        *wanted -= plants;
    }
    return COT_OK;
}

static uint32_t earliest(const struct work *w, const struct cot_dayset *done)
{
    uint32_t best = NOWHERE;
    for (uint32_t c = 0; c < w->clusters; c++) {
        if (cot_dayset_have(done, (int32_t)c)) continue;
        if (best == NOWHERE || cot_dayset_next(&w->cluster[c].days, 0) < cot_dayset_next(&w->cluster[best].days, 0))
            best = c;
    }
    return best;
}

static enum cot_err lots_for_all(struct work *w)
{
    struct cot_dayset done = {0};
    for (uint32_t n = 0; n < w->clusters; n++) {
        uint32_t c = earliest(w, &done);
        int64_t wanted = w->cluster[c].plants;
        cot_dayset_add(&done, (int32_t)c);
        for (uint32_t lot = 0; lot <= w->ask->lots; lot++) {
            enum cot_err err = take_from(w, c, lot, &wanted);
            if (err) return err;
        }
    }
    return COT_OK;
}

enum cot_err cot_group_lines(const struct cot_group_ask *ask, void *space, struct cot_group *out,
                             struct cot_fault *fault)
{
    struct work w = {.ask = ask, .out = out, .fault = fault, .cluster = space};
    enum cot_err err = check(ask, fault);
    out->batches = out->parts = out->hopeless = 0;
    if (err) return err;
    w.left = (int64_t *)(void *)(w.cluster + COT_PLAN_DAYS);
    w.plants = w.left + COT_GROUP_LOTS;
    w.hit = w.plants + ask->lines;
    struct cot_dayset *row = (struct cot_dayset *)(void *)((char *)w.hit + cot_hit_bytes(ask->lines));
    w.of = (uint32_t *)(void *)(row + ask->lines);
    for (uint32_t i = 0; i < ask->lines; i++) {
        row[i] = ask->line[i].days;
        w.plants[i] = ask->line[i].plants;
    }
    for (uint32_t i = 0; i < ask->lots; i++) w.left[i] = ask->lot[i].seeds;
    err = cot_hit_all(row, ask->lines, w.hit, &out->fewest, fault);
    if (!err) err = make_clusters(&w);
    if (!err) err = improve(&w);
    return err ? err : lots_for_all(&w);
}
