/* A year of orders, made up: what the tests and the bench lay over a season. All figures are invented. */
#ifndef COT_TESTS_CORE_PLAN_YEAR_H
#define COT_TESTS_CORE_PLAN_YEAR_H

#include <stdlib.h>
#include <string.h>

#include "../seed.h"
#include "cotyledger/core/plan.h"

enum { YEAR_BENCH, YEAR_FRAME, YEAR_WARM, YEAR_COOL, YEAR_SOWN, YEAR_RESOURCES };
#define YEAR_DAYS 200 /* from the first Monday of January */
#define YEAR_USES 4

struct year {
    struct cot_level_ask ask;
    struct cot_resource resource[YEAR_RESOURCES];
    int64_t room[YEAR_RESOURCES][YEAR_DAYS];
    struct cot_level_batch *batch;
    struct cot_use *use;
};

static inline void year_free(struct year *y)
{
    free(y->batch);
    free(y->use);
    free(y);
}

/* Collecting days crowd around two times of the spring. */
static inline int32_t year_date(struct dice *d)
{
    int32_t around = dice_int(d, 0, 9) < 6 ? 105 : 145;
    return around + (int32_t)(dice_int(d, -20, 20) + dice_int(d, -20, 20)) / 2;
}

static inline void year_batch(struct year *y, uint32_t i, struct dice *d)
{
    struct cot_level_batch *b = &y->batch[i];
    struct cot_use *u = &y->use[i * YEAR_USES];
    int32_t tray_days = 7 * (int32_t)dice_int(d, 4, 9), keeps = (int32_t)dice_int(d, 4, 10);
    int32_t chamber = (int32_t)dice_int(d, 2, 5), harden = (int32_t)dice_int(d, 0, 1) * 7;
    int32_t date = year_date(d), early = (int32_t)dice_int(d, 0, 7), late = (int32_t)dice_int(d, 0, 7);
    int64_t trays = 1 + dice_int(d, 0, 9) * dice_int(d, 0, 9) * dice_int(d, 1, 3) / 4;
    *b = (struct cot_level_batch){.use = u, .uses = YEAR_USES, .standing = -1, .queue = 1 + i};
    for (int32_t s = date - early - tray_days - keeps; s <= date + late - tray_days; s++)
        if (s >= 0 && s % 7 < 5 && (s + chamber) % 7 < 6) cot_dayset_add(&b->days, s);
    if (cot_dayset_empty(&b->days))
        cot_dayset_add(&b->days, (date - tray_days) / 7 * 7 > 0 ? (date - tray_days) / 7 * 7 : 0);
    b->plate = (int32_t)dice_int(d, -1, 11);
    if (dice_int(d, 0, 1)) { /* stands until the collecting day */
        u[0] = (struct cot_use){YEAR_BENCH, chamber, date - harden, COT_USE_TO_DAY, trays, NULL, NULL};
        u[1] = (struct cot_use){YEAR_FRAME, date - harden, date, COT_USE_FROM_DAY | COT_USE_TO_DAY, trays, NULL, NULL};
    } else { /* goes when it is ready */
        u[0] = (struct cot_use){YEAR_BENCH, chamber, tray_days - harden, 0, trays, NULL, NULL};
        u[1] = (struct cot_use){YEAR_FRAME, tray_days - harden, tray_days, 0, trays, NULL, NULL};
    }
    u[2] = (struct cot_use){dice_int(d, 0, 2) ? YEAR_COOL : YEAR_WARM, 0, chamber, 0, trays, NULL, NULL};
    u[3] = (struct cot_use){YEAR_SOWN, 0, 1, 0, trays, NULL, NULL};
}

/* Rooms in the measure of the trays: a bench that is full at `full` per mille when use is spread evenly over the
 * months in which it is high. */
static inline struct year *year_make(uint32_t batches, struct dice *d, int64_t slack)
{
    struct year *y = calloc(1, sizeof *y);
    int64_t trays = 0;
    y->batch = calloc(batches, sizeof *y->batch);
    y->use = calloc((size_t)batches * YEAR_USES, sizeof *y->use);
    for (uint32_t i = 0; i < batches; i++) {
        year_batch(y, i, d);
        trays += y->use[i * YEAR_USES].amount;
    }
    const int64_t parts[YEAR_RESOURCES] = {700, 300, 60, 120, 28}; /* of all trays of the year, per mille */
    for (int r = 0; r < YEAR_RESOURCES; r++)
        for (int32_t i = 0; i < YEAR_DAYS; i++) y->room[r][i] = trays * parts[r] * slack / 1000000 + 30;
    for (int r = 0; r < YEAR_RESOURCES; r++) y->resource[r] = (struct cot_resource){y->room[r], r == YEAR_BENCH};
    y->ask = (struct cot_level_ask){YEAR_DAYS, y->resource, YEAR_RESOURCES, y->batch, batches, false, 0};
    return y;
}

#endif
