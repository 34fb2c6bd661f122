/* Exact values beside ours: sums and products in MPFR at 256 bits, so that only our own error shows. What is compared
 * is counted, and the largest relative error is printed. */
#ifndef COT_TESTS_REFERENCE_EXACT_H
#define COT_TESTS_REFERENCE_EXACT_H

#include <math.h>
#include <mpfr.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "../main.h"

#define EXACT_BITS 256
#define EXACT_TINY 1e-300 /* below this a double has fewer digits, and nothing is asserted */

/* How near a function came. */
struct near {
    const char *name;
    double bound;
    long points;
    double worst;
    char where[120];
};

#define NEAR(text, most)                                                                                               \
    {                                                                                                                  \
        .name = (text), .bound = (most)                                                                                \
    }

static inline double exact_miss(double got, const mpfr_t want)
{
    mpfr_t d;
    mpfr_init2(d, EXACT_BITS);
    mpfr_d_sub(d, got, want, MPFR_RNDN);
    mpfr_div(d, d, want, MPFR_RNDN);
    double miss = fabs(mpfr_get_d(d, MPFR_RNDN));
    mpfr_clear(d);
    return miss;
}

static inline void near_note(struct near *t, double miss, double a, double b, double c, double d)
{
    t->points++;
    if (miss <= t->worst) return;
    t->worst = miss;
    snprintf(t->where, sizeof t->where, "%.17g %.17g %.17g %.17g", a, b, c, d);
}

/* `got` against `want`; a, b, c, d say where. */
static inline void near_check(struct near *t, double got, const mpfr_t want, double a, double b, double c, double d)
{
    double size = fabs(mpfr_get_d(want, MPFR_RNDN));
    if (size < EXACT_TINY) {
        if (!(fabs(got) <= 2 * EXACT_TINY))
            ck_abort_msg("%s at %.17g %.17g %.17g %.17g: %g, not nearly 0", t->name, a, b, c, d, got);
        return;
    }
    near_note(t, exact_miss(got, want), a, b, c, d);
}

static inline long near_report(const struct near *t, int n)
{
    long points = 0;
    for (int i = 0; i < n; i++) {
        printf("%-22s %7ld points, largest relative error %.1e at %s\n", t[i].name, t[i].points, t[i].worst,
               t[i].where);
        points += t[i].points;
    }
    fflush(stdout);
    for (int i = 0; i < n; i++)
        if (!(t[i].worst <= t[i].bound)) ck_abort_msg("%s: %g at %s", t[i].name, t[i].worst, t[i].where);
    return points;
}

/* The default makes at least 50,000 points in all; COT_TEST_GRID=4 a fourth of the points, for slow builds. */
static inline int grid_thin(void)
{
    const char *given = getenv("COT_TEST_GRID");
    int thin = given ? atoi(given) : 1;
    return thin < 1 ? 1 : thin;
}

#endif
