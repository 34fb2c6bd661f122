/* What the planned sowings to come take: seed, plugs bought in, growing mix, trays, labels and hours, by week and
 * against what is on hand. A reading of the book.
 *
 *   seed    enough in the house's confidence of all such sowings (sow.h), grams by the lot's or the bare crop's seeds
 *           a gram
 *   plugs   as seed, of lots of plugs (sow.h)
 *   mix     cells x cell volume x (1 + COT_NEED_MIX_MORE): what is pressed together and spilt comes on top
 *   trays   as planned, a shared tray once; of a crop that is potted on also the larger ones, for the plants likely
 *   labels  one a tray
 *   hours   so many minutes a sowing and a tray as the house's rule says; else COT_MINUTES_SOWING, COT_MINUTES_TRAY
 *           (remedy.h): assumed */
#ifndef COTYLEDGER_CORE_NEED_H
#define COTYLEDGER_CORE_NEED_H

#include "cotyledger/core/book.h"

#define COT_NEED_MIX_MORE 20 /* per cent; common practice, no source: no published figure was found */
#define COT_NEED_DELIVERY 14 /* days from order to delivery where the house has no rule: assumed, no source */

struct cot_need_week {
    int32_t monday;
    int32_t sowings;
    int64_t trays, seeds, mix_ul, labels, minutes;
    bool mix_unknown; /* the cells of some format have no volume: not in mix_ul */
};

enum cot_need_what { COT_NEED_SEED, COT_NEED_PLUGS, COT_NEED_MIX, COT_NEED_LABELS, COT_NEED_TRAYS };
struct cot_need_item {
    enum cot_need_what what;
    const struct cot_thing *lot, *variety; /* of SEED and PLUGS */
    const struct cot_thing *format;        /* of TRAYS */
    int64_t need, on_hand;                 /* seeds, plants, uL, labels, trays; on_hand -1: nobody counted */
    int64_t mg, seeds_per_g;               /* of SEED: of the need; 0: not known */
    int32_t first;                         /* day on which it is first needed */
    int32_t short_on;                      /* day from which what is on hand is not enough; COT_DAY_NONE: it is */
    bool retest;                           /* the lot's test is to be repeated */
};
struct cot_needs {
    int32_t from, to;
    struct cot_need_week *week; /* by week */
    size_t weeks;
    struct cot_need_item *item; /* seed by variety and lot, mix, labels, trays by format */
    size_t items;
    bool any_mix_unknown;
    int64_t sowing_minutes, tray_minutes; /* that hours go by */
    bool minutes_said;                    /* by the house's rule, at least one of them */
};
/* Of planned sowings whose day is from `from` to `to`, what is not sown yet; those before `from` count as of it.
 * Potting on after `to` is left out.
 * What is on hand is as last counted by `from` (stock.h), seed less what was sown. Errors: MEMORY; INVALID: no house.
 * Free in any case. */
COT_MUSTCHECK enum cot_err cot_needs_read(struct cot_book *b, int32_t from, int32_t to, struct cot_needs *out,
                                          struct cot_fault *fault);
void cot_needs_free(struct cot_needs *n);

/* Growing mix for so many cells, uL, rounded up. */
int64_t cot_need_mix_ul(int64_t cells, int64_t cell_ul);

#endif
