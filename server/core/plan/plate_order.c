/* The order of a day's sowings with the fewest plate changes, and the plates that a season needs. */
#include <string.h>

#include "cotyledger/core/plate.h"

size_t cot_plate_day_bytes(uint32_t sowings)
{
    return (size_t)sowings * sizeof(struct cot_dayset) + cot_hit_bytes(sowings);
}

static enum cot_err check(const struct cot_dayset *usable, uint32_t sowings, uint32_t plates, struct cot_fault *fault)
{
    if (plates > COT_PLAN_DAYS)
        return cot_fail(fault, COT_INVALID, "%u plates; at most %d can be planned with", (unsigned)plates,
                        COT_PLAN_DAYS);
    if (sowings > COT_HIT_ROWS)
        return cot_fail(fault, COT_INVALID, "%u sowings; at most %d can be planned at once", (unsigned)sowings,
                        COT_HIT_ROWS);
    for (uint32_t i = 0; i < sowings; i++)
        if (cot_dayset_last(&usable[i]) >= (int32_t)plates)
            return cot_fail(fault, COT_INVALID, "sowing %u may use a plate that is not there", (unsigned)i + 1);
    return COT_OK;
}

/* --- A day --- */
/* Of the plates on that day the cheapest for the sowing, else the first. */
static int32_t pick(const struct cot_dayset *usable, const struct cot_dayset *there, const int64_t *cost)
{
    struct cot_dayset may = *usable;
    int32_t best = -1;
    cot_dayset_both(&may, there);
    for (int32_t p = cot_dayset_next(&may, 0); p >= 0; p = cot_dayset_next(&may, p + 1))
        if (best < 0 || (cost && cost[p] < cost[best])) best = p;
    return best;
}

static uint32_t place(const int32_t *on_plate, uint32_t sowings, int32_t plate, uint32_t from, uint32_t *order)
{
    for (uint32_t i = 0; i < sowings; i++)
        if (on_plate[i] == plate) order[from++] = i;
    return from;
}

static void put_in_order(const int32_t *on_plate, uint32_t sowings, int32_t on, uint32_t *order,
                         struct cot_plate_day *out)
{
    struct cot_dayset done = {0};
    uint32_t n = 0;
    if (on >= 0) {
        n = place(on_plate, sowings, on, 0, order);
        out->on_used = n > 0;
        cot_dayset_add(&done, on);
    }
    out->last = on;
    for (uint32_t i = 0; i < sowings; i++) {
        if (on_plate[i] < 0 || cot_dayset_have(&done, on_plate[i])) continue;
        cot_dayset_add(&done, on_plate[i]);
        n = place(on_plate, sowings, on_plate[i], n, order);
        out->last = on_plate[i];
        out->changes++;
    }
    place(on_plate, sowings, -1, n, order);
}

enum cot_err cot_plate_order(const struct cot_dayset *usable, uint32_t sowings, uint32_t plates, int32_t on,
                             const int64_t *cost, void *space, uint32_t *order, int32_t *on_plate,
                             struct cot_plate_day *out, struct cot_fault *fault)
{
    struct cot_dayset *row = space, there;
    enum cot_err err = check(usable, sowings, plates, fault);
    *out = (struct cot_plate_day){.last = -1};
    if (!err && (on < -1 || on >= (int32_t)plates))
        err = cot_fail(fault, COT_INVALID, "the plate that is on is not there");
    if (err) return err;
    for (uint32_t i = 0; i < sowings; i++) {
        row[i] = usable[i];
        if (on >= 0 && cot_dayset_have(&usable[i], on)) row[i] = (struct cot_dayset){0}; /* needs no change */
    }
    err = cot_hit_all(row, sowings, row + sowings, &out->fewest, fault);
    if (err) return err;
    there = out->fewest.chosen;
    if (on >= 0) cot_dayset_add(&there, on);
    for (uint32_t i = 0; i < sowings; i++)
        on_plate[i] = pick(&usable[i], &there, cost ? cost + (size_t)i * plates : NULL);
    put_in_order(on_plate, sowings, on, order, out);
    return COT_OK;
}

/* --- A season --- */
static void share_out(const struct cot_dayset *usable, uint32_t sowings, const struct cot_dayset *set,
                      struct cot_plate_share *share)
{
    for (uint32_t i = 0; i < sowings; i++) {
        struct cot_dayset may = usable[i];
        int32_t best = -1;
        cot_dayset_both(&may, set);
        for (int32_t p = cot_dayset_next(&may, 0); p >= 0; p = cot_dayset_next(&may, p + 1))
            if (best < 0 || share[p].could > share[best].could) best = p;
        if (best < 0) continue;
        share[best].serves++;
        share[best].alone += cot_dayset_count(&may) == 1;
    }
}

enum cot_err cot_plate_season(const struct cot_dayset *usable, uint32_t sowings, uint32_t plates, void *space,
                              struct cot_plate_share *share, uint32_t *without, struct cot_hit *out,
                              struct cot_fault *fault)
{
    enum cot_err err = check(usable, sowings, plates, fault);
    *out = (struct cot_hit){0};
    *without = 0;
    if (err) return err;
    memset(share, 0, plates * sizeof *share);
    err = cot_hit_all(usable, sowings, space, out, fault);
    for (uint32_t i = 0; !err && i < sowings; i++) {
        *without += cot_dayset_empty(&usable[i]);
        for (int32_t p = cot_dayset_next(&usable[i], 0); p >= 0; p = cot_dayset_next(&usable[i], p + 1))
            share[p].could++;
    }
    if (!err) share_out(usable, sowings, &out->chosen, share);
    return err;
}
