/* From the book to the plain figures of plan.h: the days on which people work, and how a crop is raised. */
#ifndef COTYLEDGER_CORE_STAGES_H
#define COTYLEDGER_CORE_STAGES_H

#include "cotyledger/core/place.h"
#include "cotyledger/core/plan.h"

/* The calendar of `days` (1 .. COT_PLAN_DAYS) days from day number `first`; *closed holds its closed days and is freed
 * with free(), also after an error. Errors: MEMORY. */
COT_MUSTCHECK enum cot_err cot_calendar_of(const struct cot_days *d, int32_t first, int32_t days,
                                           struct cot_calendar *out, int32_t **closed);

/* How plants of the crop are raised in the format (pot not NULL: and potted on into it, where the crop's raising days
 * say so): a cot_raise_on whose context is this. What is not known: 0 chamber days, 365 days in the tray, two weeks
 * from ready to past use. */
struct cot_raised {
    struct cot_book *book;
    const struct cot_thing *crop, *format, *pot;
    bool plugs; /* set into the format as plugs that were bought in */
};
void cot_raise_of(void *raised, int32_t day, struct cot_raise *out);

#endif
