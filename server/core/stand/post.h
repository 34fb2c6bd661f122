/* What the cells counted say of a batch's rate and of the cells not seen. Plain figures; nothing allocated. */
#ifndef COT_CORE_STAND_POST_H
#define COT_CORE_STAND_POST_H

#include <stddef.h>
#include <stdint.h>

#include "cotyledger/core/rate.h"

/* How far emergence has come is uncertain: what all trays share of it is a standard normal z, summed over at nodes that
 * lie about the most likely z, since what was counted may leave little of it open. */
#define COT_EMERGED_NODES 11

/* A tray counted, or a pooled count of several. */
struct cot_seen {
    double looked, fit; /* cells looked at, usable among them; a fraction where only blanks were counted */
    double trays;       /* 1; of a pooled count: how many its cells came from */
    double rest;        /* cells of the tray not looked at that are still there */
    double blanks;      /* that may still come up: 0 unless it was counted early */
    int32_t early;      /* days from sowing to it; 0: not counted early */
    double emerged[COT_EMERGED_NODES]; /* share of what will come that had come; 1 unless it was counted early */
};

struct cot_post_in {
    struct cot_odds before;   /* of the batch's seeds, its own part in it */
    const double *rho_weight; /* COT_RHO_POINTS of them */
    cot_usable_of *usable;    /* NULL: q = s */
    const void *cell;
    const struct cot_seen *seen;
    size_t seen_len;
    const double *emerged_weight; /* COT_EMERGED_NODES of them, summing to 1; NULL: nothing was counted early */
    double fresh;                 /* cells of which nothing was looked at in their tray */
    double tray_cells;            /* of a tray */
};

struct cot_post {
    double rho_log[COT_RHO_POINTS]; /* log likelihood of what was seen, each rho; the rate integrated out */
    double weight[COT_RHO_POINTS];  /* rho after it; sums to 1 */
    double mean[COT_RHO_POINTS];    /* usable plants among fresh cells, rests, and blanks that may come */
    double variance[COT_RHO_POINTS];
    struct cot_odds x; /* the seeds' odds after it */
    double slope;      /* plants more for one more on the log-odds scale */
    double rate;       /* expected of fresh cells and rests */
};

/* Prior normal on x, likelihood beta-binomial for each tray, by sums over x for each rho (and emergence); given x the
 * plants' mean and variance are known, over x they follow by the law of total variance. For a tray counted early the
 * rate seen is q times the share emerged, and a blank still comes up with q (1 - E) / (1 - q E). */
void cot_post_read(const struct cot_post_in *in, struct cot_post *out);

#endif
