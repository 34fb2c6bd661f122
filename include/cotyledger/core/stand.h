/* The stand of a batch: how many usable plants it has, as a distribution.
 *
 * Plain form: cells counted are as they were seen; a tray counted again replaces its earlier figure; every cell not
 * counted is usable with a rate ~ Beta(a, b): the lot's test and the house's emergence and usable share as prior, updated by
 * the cells counted. So plants = seen + beta-binomial(cells not seen; a, b) - losses + patched, never less than what
 * already went out.
 */
#ifndef COTYLEDGER_CORE_STAND_H
#define COTYLEDGER_CORE_STAND_H

#include "cotyledger/core/book.h"

struct cot_stand {
    struct cot_id batch;
    struct cot_id variety, format, lot, parent; /* zero when none */
    int32_t sown, ready, past;  /* days: sown or potted, ready from, past use after (COT_DAY_NONE unknown) */
    int32_t counted;            /* day of the latest count; COT_DAY_NONE if none */
    int32_t trays;              /* in the batch; 0 for rows of a shared tray */
    int32_t trays_counted;
    int64_t cells, looked;      /* cells sown; of them looked at */
    int64_t usable, blanks, culls, doubles; /* as seen (doubles: known) */
    bool bounded;               /* blanks only: `usable` is then an upper bound, not a count */
    bool provisional;           /* counted before the crop's stand-count day, or not counted */
    bool held;
    double a, b;                /* posterior of the rate of the cells not seen */
    int64_t unseen;             /* cells not seen */
    int64_t fixed;              /* usable seen, losses taken off, patched added: plants = max(fixed + X, out) */
    int64_t lost;               /* usable plants lost or potted on */
    int64_t out, back;          /* handed over; brought back usable (already taken off out) */
    int64_t likely;             /* median of the plants there are, handed over included */
    int64_t count_on;           /* plants that hold with the house's confidence */
    bool over;                  /* more went out than the stand explains: raised to it */
    bool untreated, organic;    /* of its lot */
    struct cot_id owner;        /* farm whose seed it is; zero: the house's */
};

/* As known on day `on`: work dated later is left out. Batches not booked or taken back are no stand.
 * Errors: NOT_FOUND. */
COT_MUSTCHECK enum cot_err cot_stand_read(struct cot_book *b, const struct cot_thing *batch, int32_t on, struct cot_stand *out);

/* Plants in all at level u in (0, 1): the u-quantile of max(fixed + X, out). Non-decreasing in u. */
int64_t cot_stand_at(const struct cot_stand *s, double u);

#endif
