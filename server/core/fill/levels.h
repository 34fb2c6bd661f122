/* Which level of each batch's stand meets which level of the others': COT_FILL_LEVELS supplies, spread evenly.
 *
 * Within a group of batches that share lines: a rank-1 lattice of N = 1021 points (a prime), supply i taking the batch
 * of rank d at level (z_d i mod N + 1/2) / N. So every batch goes once through each of its N levels, and any two of the
 * first ranks are spread evenly against each other: for r = z_d / z_e mod N no small h, k have h + k r = 0 mod N (the
 * smallest |h| |k| is the figure in the test; Niederreiter 1992, "Random Number Generation and Quasi-Monte Carlo
 * Methods", ch. 5, from memory). The z were searched for that. Ranks past the table take a fixed shuffle of the levels
 * instead. Each group walks its lattice in a fixed shuffled order of its own, so that groups are independent of each
 * other. */
#ifndef COT_CORE_FILL_LEVELS_H
#define COT_CORE_FILL_LEVELS_H

#include <stdint.h>

#include "cotyledger/core/fill.h"

#define COT_LATTICE_RANKS 28
extern const uint16_t cot_lattice[COT_LATTICE_RANKS];

/* Level 0 .. COT_FILL_LEVELS - 1 of each supply i for the batch of this rank in this group: a permutation. */
void cot_fill_levels(uint32_t group, uint32_t rank, uint16_t out[static COT_FILL_LEVELS]);

#endif
