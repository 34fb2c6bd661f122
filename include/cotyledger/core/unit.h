/* Measures in US customary units. The ledger keeps whole metric units (uL, um, mg, L); a house may see and type the
 * others.
 *
 * Factors are exact (NIST Special Publication 811, A. Thompson and B. N. Taylor 2008, appendix B.8): inch 25.4 mm, US
 * gallon 231 cubic inches, pound 0.453 592 37 kg of 16 ounces. */
#ifndef COTYLEDGER_CORE_UNIT_H
#define COTYLEDGER_CORE_UNIT_H

#include "cotyledger/core/book.h"

struct cot_unit {
    const char *of;   /* a field's unit */
    const char *word; /* "cu in" */
    int64_t num, den; /* one of it is num / den of the field's unit, exactly, in lowest terms */
    int places;       /* decimals it is shown with */
};
/* The customary unit of a field's unit; NULL: it has none (plants, trays, days ...). */
const struct cot_unit *cot_unit_us(const char *of);
/* `metric` (0 .. 10^9) in 10^-places of the unit, rounded half up; and back to the field's unit. What is written with
 * so many decimals at most comes back as it was written. */
int64_t cot_unit_shown(const struct cot_unit *u, int64_t metric);
int64_t cot_unit_back(const struct cot_unit *u, int64_t shown);

enum { COT_UNITS_METRIC, COT_UNITS_US }; /* in the order of the field's words */
/* Whether the house chose US customary units; metric when it said nothing, or `b` is NULL. */
bool cot_units_us(struct cot_book *b);

#endif
