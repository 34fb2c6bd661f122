/* Numbers for property tests: the seed is printed, and taken back from COT_TEST_SEED. */
#ifndef COT_TESTS_CORE_SEED_H
#define COT_TESTS_CORE_SEED_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "../main.h"

/* An assertion for loops of many rounds: Check's own leaves a mark in a file each time it passes. */
#define sure(expr)                                                                                                     \
    do {                                                                                                               \
        if (!(expr)) ck_abort_msg("not so: %s", #expr);                                                                \
    } while (0)

struct dice {
    uint64_t s;
};

static inline struct dice dice_new(const char *what)
{
    const char *given = getenv("COT_TEST_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : (uint64_t)time(NULL);
    printf("%s: COT_TEST_SEED=%llu\n", what, (unsigned long long)seed);
    fflush(stdout);
    return (struct dice){seed};
}

/* SplitMix64. */
static inline uint64_t dice_next(struct dice *d)
{
    uint64_t z = (d->s += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

static inline int64_t dice_int(struct dice *d, int64_t low, int64_t high)
{
    return low + (int64_t)(dice_next(d) % (uint64_t)(high - low + 1));
}

static inline double dice_real(struct dice *d) /* in (0, 1) */
{
    return ((double)(dice_next(d) >> 12) + 0.5) / 4503599627370496.0;
}

#endif
