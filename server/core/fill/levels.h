/* Which level of each axis of a group of batches meets which level of the others': COT_FILL_LEVELS points, spread
 * evenly.
 *
 * A rank-1 lattice of N = 8191 points (a prime), point i taking on the axis of rank d the level (z_d i mod N + 1/2) /
 * N. So every axis goes once through each of its N levels, and the axes are spread evenly against each other. The z
 * were built component by component for the least worst-case error in the space of order 2 with weights 1 / d
 * among those that meet each earlier axis evenly (the test's figure) (Sloan and Reztsov 2002, Math. Comp. 71:263-273;
 * Nuyens and Cools 2006, Math. Comp. 75:903-920; both from memory). Ranks past the table take a fixed shuffle of the
 * levels instead. Each group walks its lattice in a fixed shuffled order of its own, so that groups are independent of
 * each other. */
#ifndef COT_CORE_FILL_LEVELS_H
#define COT_CORE_FILL_LEVELS_H

#include <stdint.h>

#include "cotyledger/core/fill.h"

#define COT_LATTICE_RANKS 32
extern const uint16_t cot_lattice[COT_LATTICE_RANKS];

/* The order in which a group walks its lattice: a permutation of 0 .. COT_FILL_LEVELS - 1. */
void cot_fill_order(uint32_t group, uint16_t out[static COT_FILL_LEVELS]);
/* Level 0 .. COT_FILL_LEVELS - 1 of each point for the axis of this rank: a permutation. */
void cot_fill_levels(uint32_t group, const uint16_t order[static COT_FILL_LEVELS], uint32_t rank,
                     uint16_t out[static COT_FILL_LEVELS]);

#endif
