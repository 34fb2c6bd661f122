/* The lattice over which supplies are spread. */
#include "fill/levels.h"

#define N COT_FILL_LEVELS

const uint16_t cot_lattice[COT_LATTICE_RANKS] = {1,    2431, 3799, 1141, 520,  2865, 2363, 793,  2774, 3090, 2129,
                                                 184,  4083, 700,  1686, 3340, 2813, 3908, 675,  1629, 3149, 2688,
                                                 1202, 2572, 534,  1177, 425,  3974, 3833, 3231, 3724, 2747};

/* SplitMix64 (Steele, Lea and Flood 2014): the same shuffles everywhere; no randomness is wanted of them. */
static uint64_t next(uint64_t *state)
{
    uint64_t z = (*state += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

/* Fisher and Yates; shuffle 0 leaves all in order. */
static void shuffle(uint64_t number, uint16_t out[static N])
{
    uint64_t state = number << 20;
    for (uint16_t i = 0; i < N; i++) out[i] = i;
    for (uint32_t i = N - 1; number > 0 && i > 0; i--) {
        uint32_t k = (uint32_t)(next(&state) % (i + 1));
        uint16_t t = out[i];
        out[i] = out[k];
        out[k] = t;
    }
}

void cot_fill_order(uint32_t group, uint16_t out[static N])
{
    shuffle((uint64_t)group << 20, out);
}

void cot_fill_levels(uint32_t group, const uint16_t order[static N], uint32_t rank, uint16_t out[static N])
{
    if (rank >= COT_LATTICE_RANKS) {
        shuffle(((uint64_t)group << 20) + rank, out);
        return;
    }
    for (uint32_t i = 0; i < N; i++) out[i] = (uint16_t)((uint32_t)order[i] * cot_lattice[rank] % N);
}
