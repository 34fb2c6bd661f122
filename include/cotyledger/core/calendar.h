/* Days to put into a calendar: sowings, trays out of the chamber, stand counts, potting on, hardening off, collecting.
 * A reading of the book. */
#ifndef COTYLEDGER_CORE_CALENDAR_H
#define COTYLEDGER_CORE_CALENDAR_H

#include "cotyledger/core/fill.h"

enum cot_event_sort {
    COT_EVENT_SOW,
    COT_EVENT_UP,
    COT_EVENT_COUNT,
    COT_EVENT_POT_ON,
    COT_EVENT_HARDEN,
    COT_EVENT_COLLECT
};
struct cot_event {
    enum cot_event_sort sort;
    int32_t day;
    /* What it is an event of: a planned sowing, also once it was sown; a batch that was not planned; an order line.
     * Sort and this thing's identity together are one event, whatever becomes of its day. */
    const struct cot_thing *of;
    const struct cot_thing *batch, *lot, *variety, *format, *farm; /* NULL where there is none */
    int64_t trays, plants;                                         /* 0: not known */
    const char *bench;                                             /* "" not said */
    bool gone;     /* dropped, or withdrawn: an event that was given out is no more */
    int64_t stamp; /* ms since 1970: clock of the last entry about it */
};
/* Events from `from` to `to`, both in, as known on `on`; by day, sort, name. The caller frees with free(). Errors:
 * MEMORY; INVALID: no house. */
COT_MUSTCHECK enum cot_err cot_calendar_read(struct cot_book *b, int32_t on, int32_t from, int32_t to,
                                             struct cot_event **out, size_t *n, struct cot_fault *fault);

#endif
