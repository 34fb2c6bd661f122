/* Where trays stand and when people work: places, days on which a place is out of use or the house closed, working
 * days. Readings of the book; what the house has not said is left to the usual figures named here. */
#ifndef COTYLEDGER_CORE_PLACE_H
#define COTYLEDGER_CORE_PLACE_H

#include "cotyledger/core/book.h"

enum cot_place_sort { COT_PLACE_CHAMBER, COT_PLACE_BENCH, COT_PLACE_FRAME }; /* in the order of the field's words */

/* --- Spots ----------------------------------------------------------------------------------------------------------
 * A place holds so many trays of the usual footprint. A tray of a larger footprint takes proportionally more, one of a
 * smaller footprint no less than a spot: half a tray beside a whole one leaves a gap. */
#define COT_USUAL_LENGTH_UM 540000 /* 54 x 28 cm, the usual flat of the trade: common practice, no source */
#define COT_USUAL_WIDTH_UM 280000
/* The usual footprint in um2: the house's rule, or the one above. Both sides together: one alone counts for nothing. */
int64_t cot_usual_footprint(struct cot_book *b);
/* Thousandths of a spot that one tray of the format takes: at least 1000; 1000 when its measures are not known. A
 * format of 40 x 60 cm takes 1587 (rounded down) by the usual footprint. */
int64_t cot_tray_spots(const struct cot_thing *format, int64_t footprint);
/* Whole spots, rounded up, for so many trays. 0 for no trays. */
int64_t cot_trays_spots(const struct cot_thing *format, int64_t footprint, int64_t trays);

/* Temperature groups, ASCII case aside. A place of no group takes any crop, a crop of no group goes anywhere. */
bool cot_same_group(const char *a, const char *b);
bool cot_place_takes(const struct cot_thing *place, const char *group);

/* The place of that name, ASCII case and blanks around it aside; NULL when there is none. What a sowing says of its
 * bench is free text: this is how it is understood. */
const struct cot_thing *cot_place_named(struct cot_book *b, const char *text);

/* --- Days -----------------------------------------------------------------------------------------------------------
 * Closings: booked entries that close the house, or one place, from a day until another (both included). */
struct cot_closing {
    struct cot_id entry;
    const struct cot_thing *place; /* NULL: the house */
    int32_t from, until;           /* until = from when the entry names no last day */
    const char *why;               /* the book's; "" when not said */
};
struct cot_days {
    unsigned weekdays;           /* bit 1 << 0 Monday .. bit 1 << 6 Sunday: the days on which the house works */
    bool said;                   /* by the house; else Monday to Friday: common practice, no source */
    struct cot_closing *closing; /* by first day, then last, then entry */
    size_t closings;
};
#define COT_WEEKDAYS_USUAL 0x1Fu
/* Closings of places that were taken back are left out. Free with cot_days_free, also after a failure. Errors: MEMORY.
 */
COT_MUSTCHECK enum cot_err cot_days_read(struct cot_book *b, struct cot_days *out);
void cot_days_free(struct cot_days *d);

/* Whether the house works on the day: a working weekday on which the house is not closed. */
bool cot_working_day(const struct cot_days *d, int32_t day);
/* The last working day on or before `day`, the first on or after it; COT_DAY_NONE when there is none within 366 days.
 */
int32_t cot_working_before(const struct cot_days *d, int32_t day);
int32_t cot_working_after(const struct cot_days *d, int32_t day);
/* Whether the place can hold trays on the day: within its own days, and not shut. A closed house leaves its places
 * standing. */
bool cot_place_open(const struct cot_days *d, const struct cot_thing *place, int32_t day);
/* The closing that holds for the place (NULL: the house) on the day, the first of them; NULL when there is none. */
const struct cot_closing *cot_closed_by(const struct cot_days *d, const struct cot_thing *place, int32_t day);

/* --- Age of a germination test --------------------------------------------------------------------------------------
 * Days from the lot's test day to `on`; -1 when no test day is known or it lies after `on`. */
int32_t cot_test_age(const struct cot_thing *lot, int32_t on);
/* Whether the house's rule asks for the test to be repeated. Without the rule, or without a test day, never. */
bool cot_test_old(struct cot_book *b, const struct cot_thing *lot, int32_t on);

#endif
