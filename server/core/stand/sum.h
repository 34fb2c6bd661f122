/* What the walks through a batch's work keep; shared by calc.c (counts and losses) and seen.c (what they teach). */
#ifndef COT_CORE_STAND_SUM_H
#define COT_CORE_STAND_SUM_H

#include "stand/calc.h"

#define COT_NEVER ((size_t)-1)

/* One tray as it stands. Index of work: later is larger. */
struct cot_tray {
    size_t counted, lost;    /* index of the latest count, of its loss; COT_NEVER */
    struct cot_tray_count c; /* the latest count */
    int64_t usable, survivors, unseen;
    int64_t patched;    /* by patchings that named it */
    double gone;        /* lost from it less patched into it before it was counted */
    double looked, fit; /* what its count teaches: cells, usable among them */
    bool early;         /* counted before the stand-count day */
};

/* Counts made after plants were lost or patched in: cells looked at, usable among them, and how many plants more (gone)
 * they would have shown before; a, b: the rate as all else teaches it. */
struct cot_told {
    double a, b, looked, fit, gone, more; /* `more`: of the gone, read as if they were still there */
};

struct cot_sum {
    const struct cot_stand_in *in;
    struct cot_tray *tray;
    struct cot_tray pool;                    /* the latest pooled count; its `unseen`: cells it speaks for */
    int64_t pool_room;                       /* cells that the pool may have been counted among */
    int64_t usable, survivors, unseen, live; /* of all trays there are, pool apart */
    int64_t nameless;                        /* trays lost without a number */
    int64_t lost, patched;
    int64_t loose; /* plants lost less patched, on trays that are still there */
    struct cot_told told;
    double a, b; /* the rate plainly: cells pooled; for weighing losses, no more */
};

/* Thrown out since it was counted last. */
static inline bool cot_tray_dead(const struct cot_tray *t)
{
    return t->lost != COT_NEVER && (t->counted == COT_NEVER || t->counted < t->lost);
}

/* Fills rate, to_come and left of *out from what the trays and the pool teach. MEMORY. */
COT_MUSTCHECK enum cot_err cot_sum_rate(const struct cot_sum *s, struct cot_stand *out, struct cot_learned *learned);

#endif
