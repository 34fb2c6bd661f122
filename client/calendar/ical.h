/* Writing iCalendar (RFC 5545). The only room that knows libical, which is loaded when a calendar is asked for: it
 * takes longer to load than a command. */
#ifndef COTYL_CALENDAR_ICAL_H
#define COTYL_CALENDAR_ICAL_H

#include "cotyledger/core/err.h"
#include "cotyledger/wire/bytes.h"

struct cot_ical_event {
    const char *uid;                              /* the same for the same event, whatever becomes of it */
    int64_t stamp;                                /* ms since 1970: when it last changed */
    int32_t day;                                  /* all day */
    const char *summary, *description, *location; /* UTF-8; "" none */
    bool cancelled;
};
/* Puts a whole calendar of that name. Errors: MEMORY; IO: libical is not there. */
COT_MUSTCHECK enum cot_err cot_ical_write(const char *name, const struct cot_ical_event *event, size_t n,
                                          struct cot_buf *out, struct cot_fault *fault);

#endif
