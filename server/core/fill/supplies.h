/* The possible supplies: COT_FILL_LEVELS of them, equally likely, one figure a batch each.
 *
 * Batch b stands at level Phi(z_b) of its own distribution, z_b = s F + sqrt(1 - s^2) e_b, with s its stand's `shared`
 * and F one standard normal a lot: a Gaussian copula (Nelsen 2006, "An Introduction to Copulas", 2.3.6, from memory).
 * Batches that lines or lots tie together form a group. Its normals (one a batch, one a lot) are turned, by one
 * reflection, so that the first of them is the direction in which the group's whole supply goes up and down; the
 * others then decide little, and the lattice's first rank, which passes once through each level, decides most (the idea
 * of Acworth, Broadie and Glasserman 1998, from memory). Then each batch's points, in order of its level, take its
 * levels one by one, so that a batch by itself is as evenly spread as if it were alone. */
#ifndef COT_CORE_FILL_SUPPLIES_H
#define COT_CORE_FILL_SUPPLIES_H

#include "cotyledger/core/fill.h"

/* A batch that stands alone in its component has each figure it may have once, weighted in COT_SOLE_WEIGHT-ths: a sum
 * of them is good to 1 / 131072. Of one that may have more than COT_SOLE_LEVELS figures only those at so many levels,
 * each of the same weight: good to 1 / 8192 at each supply at which a line turns full. */
#define COT_SOLE_LEVELS 4096
#define COT_SOLE_WEIGHT 65536

struct cot_supplies {
    uint32_t batches;
    int32_t *at; /* [batch b * COT_FILL_LEVELS + supply i]: plants of batch b still to be handed over; 0: nobody may
                    have them */
    /* Of the k-th batch that stands alone ... */
    int32_t *sole;         /* [k * COT_SOLE_LEVELS + point]: the figures it may have, rising */
    uint32_t *sole_points; /* [k]: how many */
    uint32_t *sole_before; /* [k * (COT_SOLE_LEVELS + 1) + point]: sum of the weights of lesser points */
    uint32_t *sole_of;     /* per batch: k; UINT32_MAX: not alone */
    uint16_t *point;       /* [k * COT_FILL_LEVELS + i]: its point in supply i */
};
/* component[b]: batches that lines tie together, numbered from 0; UINT32_MAX: nobody may have the batch. MEMORY. Free
 * in any case. */
COT_MUSTCHECK enum cot_err cot_supplies_spread(const struct cot_stand *stand, uint32_t batches,
                                               const uint32_t *component, struct cot_supplies *out);

/* The same of some batches alone, for one who spreads many times. `normals` made before (NULL: made anew); wanted[b]
 * (NULL: all): the same for all batches of a group; those of the others stay 0. MEMORY. Free in any case. */
#define COT_PHI_GRID 640 /* steps of the table of Phi */
struct cot_normals {
    double normal[COT_FILL_LEVELS]; /* quantiles at the levels */
    double phi[COT_PHI_GRID + 1];
};
void cot_normals_make(struct cot_normals *out);
COT_MUSTCHECK enum cot_err cot_supplies_spread_some(const struct cot_stand *stand, uint32_t batches,
                                                    const uint32_t *component, const struct cot_normals *normals,
                                                    const bool *wanted, struct cot_supplies *out);
/* Groups of batches that are spread together: group[b] is the least batch of b's. They are numbered in that order, and
 * the number counts for how they are spread. MEMORY. */
COT_MUSTCHECK enum cot_err cot_supplies_groups(const struct cot_stand *stand, uint32_t batches,
                                               const uint32_t *component, uint32_t *group);
void cot_supplies_free(struct cot_supplies *s);

#endif
