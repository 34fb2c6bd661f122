/* Sowings to try: plain figures that make sense. */
#ifndef COT_TESTS_CORE_SOW_PLAIN_H
#define COT_TESTS_CORE_SOW_PLAIN_H

#include <math.h>

#include "cotyledger/core/prob.h"
#include "sow/calc.h"
#include "../../main.h"
#include "../seed.h"

/* 372 of 400 seeds, 95 % fit to go, single seeds, 40 and 50 per mille of the drops miss and double. */
static inline struct cot_sow plain_sow(int64_t tray_cells)
{
    struct cot_sow s = {.germ_a = 373, .germ_b = 29, .emerge = 1, .fit = 0.95, .later = 0.01, .tray_cells = tray_cells};
    struct cot_drop_known k = {.seeds = 1, .singling = {40, 50}};
    ck_assert_int_eq(cot_drop_of(&k, &s.cell.drop, NULL), COT_OK);
    s.cell.at_least = 1;
    s.batches = 1;
    cot_spread_assumed(&s.spread);
    return s;
}

static inline struct cot_sow any_sow(struct dice *d)
{
    struct cot_sow s = plain_sow(dice_int(d, 12, 288));
    double n = (double)dice_int(d, 50, 400), g = 0.5 + 0.49 * dice_real(d);
    struct cot_drop_known k = {.by_hand = dice_int(d, 0, 1) == 1,
                               .seeds = dice_int(d, 1, 4),
                               .singling = {dice_int(d, 0, 100), dice_int(d, 0, 100)},
                               .put_right = dice_int(d, 0, 3) == 0};
    ck_assert_int_eq(cot_drop_of(&k, &s.cell.drop, NULL), COT_OK);
    s.cell.at_least = dice_int(d, 1, k.seeds);
    s.germ_a = n * g + 1;
    s.germ_b = n * (1 - g) + 1;
    s.emerge = 0.8 + 0.2 * dice_real(d);
    s.fit = 0.8 + 0.2 * dice_real(d);
    s.later = 0.05 * dice_real(d);
    s.batches = dice_int(d, 0, 2) == 0 ? dice_int(d, 2, 5) : 1;
    s.spread.shift = dice_int(d, 0, 1) == 0 ? 0 : 0.4 * dice_real(d) - 0.2;
    s.spread.between = 0.6 * dice_real(d);
    return s;
}

#endif
