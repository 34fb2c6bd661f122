/* Where trays stand, and from which day to which: of a batch from its moves, of a planned sowing from the plan. A
 * reading of the book.
 *
 * A bench is what somebody wrote; it is a place of the house when a place has that name (place.h). What nobody recorded
 * goes by the crop's days: the chamber until it comes up, the frame for hardening off where the plan names one. */
#ifndef COTYLEDGER_CORE_STAYS_H
#define COTYLEDGER_CORE_STAYS_H

#include "cotyledger/core/fill.h"
#include "cotyledger/core/place.h"
#include "cotyledger/core/plan.h"

/* --- Where a batch was put ---------------------------------------------------------------------------------------- */
#define COT_STOOD_MOST 8 /* parts told apart; what stands on still more benches is counted with the last */
struct cot_stood {
    const char *bench; /* the book's; "" when nobody said */
    int64_t trays;
    int32_t since; /* day of the move; the sowing's or potting's day before any */
    bool moved;    /* false: it stands where it was said to come to when it was sown */
};
/* Parts of a batch of so many trays as of `on`; how many. Moves that name trays move these; others move all. Parts of
 * no trays are left out, but for the last. */
int cot_stood_read(struct cot_book *b, const struct cot_thing *batch, int64_t trays, int32_t on,
                   struct cot_stood out[static COT_STOOD_MOST]);

#define COT_GONE_MOST 400 /* as many as one entry can name, and more than anybody writes down */
/* Numbers of trays that were lost as a whole by `on`, rising, each once; how many. */
int32_t cot_trays_gone(struct cot_book *b, const struct cot_thing *batch, int32_t on,
                       int32_t gone[static COT_GONE_MOST]);

/* --- Stays -------------------------------------------------------------------------------------------------------- */
#define COT_UP_LATE 7 /* days: what is in the chamber longer was moved, and nobody recorded it; house assumption */
struct cot_stay {
    const struct cot_thing *batch, *planned; /* one of the two */
    const struct cot_thing *variety, *format;
    enum cot_place_sort sort;
    const struct cot_thing *place; /* NULL: nobody said, or the house has no place of that name */
    const char *said;              /* what was written; "" nothing */
    int32_t from, to;              /* days, both in */
    int64_t trays, spots;
    bool late;   /* its days are over: past use, or not moved when it should have been */
    bool shares; /* in a shared tray whose spot an earlier stay of the list has */
};
#define COT_STAYS_MOST (2 * COT_STOOD_MOST + 2)
/* The first day on which plants of batch k are collected, or on which it is ready when that is later or nobody takes
 * them: it is hardened off before. COT_DAY_NONE: not known. */
int32_t cot_first_collected(const struct cot_fill *fill, uint32_t k);
/* Of batch k of the fill, from `fill->on` on. It stands until its last line collects it, or it is ready and nobody's;
 * what is there longer stands there today. 0: nothing of it is left. */
int cot_stays_of_batch(struct cot_book *b, const struct cot_fill *fill, uint32_t k,
                       struct cot_stay out[static COT_STAYS_MOST]);
/* Of what is left of a planned sowing, from its day (from `on` when that is past). 0: dropped, or done. */
int cot_stays_of_planned(struct cot_book *b, const struct cot_fill *fill, const struct cot_thing *planned,
                         const struct cot_calendar *c, struct cot_stay out[static COT_STAYS_MOST]);
/* Larger trays for the plants likely of so many trays of the planned sowing's, when its crop is potted on; 0: it is
 * not, or nothing is known. */
int64_t cot_planned_pots(struct cot_book *b, const struct cot_thing *planned, int64_t trays, int32_t on,
                         const struct cot_thing **format);

/* --- All places --------------------------------------------------------------------------------------------------- */
struct cot_benches {
    int32_t on;
    struct cot_stay *stay; /* by place (sort, name; those of no place last), first day, name */
    size_t stays;
    const struct cot_thing **place; /* by sort, name */
    size_t places;
    struct cot_days days;
};
/* Errors: MEMORY; INVALID: no house. Free in any case. */
COT_MUSTCHECK enum cot_err cot_benches_read(struct cot_book *b, int32_t on, struct cot_benches *out,
                                            struct cot_fault *fault);
void cot_benches_free(struct cot_benches *t);
/* Spots taken on the day; spots there are (0 while it is out of use). place NULL: of what stands at no place. */
int64_t cot_benches_used(const struct cot_benches *t, const struct cot_thing *place, int32_t day);
int64_t cot_benches_room(const struct cot_benches *t, const struct cot_thing *place, int32_t day);
/* First day from `from` to `to` on which more stands at the place than it holds, and how many spots too many on the
 * worst of these days; COT_DAY_NONE: on none. */
int32_t cot_benches_over(const struct cot_benches *t, const struct cot_thing *place, int32_t from, int32_t to,
                         int64_t *worst);

#endif
