/* Sowing: seeds in a cell, usable plants of a cell, trays to sow.
 *
 * Plain figures, nothing of the book; the caller's storage, nothing allocated. A cell gets K seeds, each of which gives
 * a plant fit to hand over on the collecting day with rate s (rate.h); a cell is usable with at least m of them, q(s).
 * Plants of a sowing are a mixture of beta-binomials over the cells sown (cot_mix), the same that the stand of a batch
 * starts from. Fewest means fewest: plants only rise with trays. */
#ifndef COTYLEDGER_CORE_SOW_H
#define COTYLEDGER_CORE_SOW_H

#include <stdbool.h>
#include <stdint.h>

#include "cotyledger/core/err.h"
#include "cotyledger/core/rate.h"

/* --- Seeds in a cell ------------------------------------------------------------------------------------------- */
#define COT_HOLES_MOST 30 /* drops for a cell, as the fields `holes` and `per_cell` allow */
#define COT_DROP_MOST (2 * COT_HOLES_MOST)

/* K = k seeds with probability p[k], k = 0 .. most; sums to 1. */
struct cot_drop {
    int most;
    double p[COT_DROP_MOST + 1];
};

/* In the order of the words of the fields `form` and `shape`. */
enum cot_seed_form { COT_SEED_RAW, COT_SEED_GRADED, COT_SEED_PELLETED, COT_SEED_COATED, COT_SEED_PRIMED };
enum cot_seed_shape { COT_SHAPE_UNKNOWN = -1, COT_SHAPE_ROUND, COT_SHAPE_FLAT, COT_SHAPE_ANGULAR, COT_SHAPE_FLUFFY };

/* How a seeder singles seed of this form and shape: drops in a thousand that leave none, and two. Round seed and
 * pelleted or coated seed of any shape drop well, graded seed better than raw, flat, angular and fluffy seed poorly;
 * primed seed as raw. A shape not known is taken as flat. Common practice, no source: a house should count its own. */
struct cot_singling {
    int64_t misses, twos; /* per mille of drops */
};
struct cot_singling cot_singling_usual(enum cot_seed_form form, enum cot_seed_shape shape);

struct cot_drop_known {
    bool by_hand;  /* exactly `seeds` in every cell: house assumption */
    int64_t seeds; /* by hand: seeds in a cell; else drops for a cell (holes of the plate), 1 .. COT_HOLES_MOST */
    struct cot_singling singling; /* misses + twos <= 1000; not read by hand */
    bool put_right;               /* every missed drop gets one seed by hand afterwards */
};
/* K is the sum of independent drops of 0, 1 or 2 ("two or more" is taken as two). INVALID: seeds or singling out of
 * range. */
COT_MUSTCHECK enum cot_err cot_drop_of(const struct cot_drop_known *k, struct cot_drop *out, struct cot_fault *fault);
double cot_drop_mean(const struct cot_drop *d);     /* seeds in a cell */
double cot_drop_variance(const struct cot_drop *d); /* between cells */

/* A cell: what drops into it and how many plants make it usable (1: single plants). */
struct cot_cell {
    struct cot_drop drop;
    int64_t at_least;
};
/* q(s) = P(at least m plants of K seeds, each giving one with rate s), 0 <= s <= 1: sum over k of p[k] P(Bin(k, s) >=
 * m). Rises with s. A cot_usable_of, `cell` a struct cot_cell. */
double cot_cell_usable(const void *cell, double s);

#endif
