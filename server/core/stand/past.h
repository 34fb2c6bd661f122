/* The house's past, read from the book: counted batches as witnesses, early counts that were made again, losses after
 * the count. */
#ifndef COT_CORE_STAND_PAST_H
#define COT_CORE_STAND_PAST_H

#include "stand/lore.h"
#include "stand/read.h"

/* Of batches of one crop, or of all (NULL). MEMORY; free in any case (NULL is fine). */
COT_MUSTCHECK enum cot_err cot_past_read(const struct cot_stand_shared *s, const struct cot_thing *crop,
                                         struct cot_past **out);
void cot_past_free(struct cot_past *p);

/* Of a batch (NULL: one to come) among `a`, its lot's own odds given. */
void cot_past_before(const struct cot_past *p, const struct cot_around *a, const struct cot_odds *lot,
                     const struct cot_id *batch, struct cot_before *out);
void cot_past_emergence(const struct cot_past *p, const struct cot_around *a, struct cot_emergence *out);
/* Share of the plants there on day `on` expected to be lost until `ready`: of the share from count_day to `ready`, in
 * proportion to the days still to come. 0 from `ready` on, or where it is not known. The share is the crop's setting,
 * worth COT_LATER_BATCHES batches, and what the crop's batches lost after their last count, each worth the part of the
 * time that it was looked at; they don't speak as long as no loss was written down. */
double cot_past_later(const struct cot_past *p, const struct cot_around *a, int32_t count_day, int32_t ready,
                      int32_t on);

#define COT_LATER_BATCHES 3 /* house assumption: batches that the crop's setting is worth; fewer don't speak */
#define COT_EMERGED_ONCE_SD                                                                                            \
    0.12 /* house assumption: what one batch, counted early and again, says of the half's day                          \
          */

#endif
