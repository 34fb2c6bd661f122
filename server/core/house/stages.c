/* Calendar and raising days as the planning arithmetic takes them. */
#include "cotyledger/core/stages.h"

#include <stdlib.h>

#include "cotyledger/core/raising.h"

#define POT_SLACK 6       /* days by which potting on may be later: house assumption, no source */
#define FIT_ASSUMED 14    /* days from ready to past use where nobody said: house assumption, no source */
#define CHAMBER_MOST 60   /* what plan.h takes */
#define READY_UNKNOWN 365 /* what plan.h takes at most */

enum cot_err cot_calendar_of(const struct cot_days *d, int32_t first, int32_t days, struct cot_calendar *out,
                             int32_t **closed)
{
    size_t n = 0;
    for (size_t i = 0; i < d->closings; i++)
        if (!d->closing[i].place) n += (size_t)(d->closing[i].until - d->closing[i].from) + 1;
    *closed = malloc((n + 1) * sizeof **closed);
    *out = (struct cot_calendar){.first = first, .days = days, .weekdays = d->weekdays, .closed = *closed};
    if (!*closed) return COT_MEMORY;
    /* Closings are in order of their first day, but may overlap. */
    int32_t next = INT32_MIN;
    for (size_t i = 0; i < d->closings; i++) {
        const struct cot_closing *c = &d->closing[i];
        for (int32_t day = c->from > next ? c->from : next; !c->place && day <= c->until; day++) {
            (*closed)[out->closed_count++] = day;
            next = day + 1;
        }
    }
    return COT_OK;
}

void cot_raise_of(void *raised, int32_t day, struct cot_raise *out)
{
    const struct cot_raised *r = raised;
    struct cot_raising g;
    if (r->plugs) cot_raising_of_plugs(r->book, r->crop, r->format, day, &g);
    else cot_raising_of(r->book, r->crop, r->format, day, &g);
    int32_t plug = r->pot && g.pot_format && cot_id_cmp(&g.pot_format->id, &r->pot->id) == 0 ? g.pot_days : 0;
    int32_t ready = g.days != COT_RAISING_UNKNOWN ? g.days - plug : READY_UNKNOWN;
    if (ready < 1) ready = 1;
    int32_t past = g.days_max != COT_RAISING_UNKNOWN ? g.days_max - plug : ready + FIT_ASSUMED;
    int32_t harden = (int32_t)cot_thing_int(r->crop, COT_F_HARDEN_DAYS, 0);
    *out = (struct cot_raise){.chamber = g.chamber != COT_RAISING_UNKNOWN ? g.chamber : 0,
                              .plug = plug,
                              .plug_max = plug > 0 ? plug + POT_SLACK : 0,
                              .ready = ready,
                              .past = past < ready ? ready : past,
                              .harden = harden < ready ? harden : ready};
    if (out->chamber > CHAMBER_MOST) out->chamber = CHAMBER_MOST;
}
