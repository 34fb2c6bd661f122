/* Days from sowing to emergence at a steady soil temperature.
 *
 * Measured: J. F. Harrington and P. A. Minges 1954, University of California Agricultural Extension leaflet, as
 * reprinted in Knott's Handbook for Vegetable Growers (1997): 24 vegetables sown half an inch deep, every 5 degrees
 * from 0 to 40 C. Trays, mixes and varieties differ from it: a house's own figure comes first.
 *
 * Heat sum: days = sum / (temperature - base), J. F. Bierhuizen and W. A. Wagenvoort 1974, Scientia Horticulturae
 * 2:213-219 (base and sum from memory), for those crops alone where both sources agree to a fifth, and from 15 to 25 C:
 * above that emergence slows again and the sum does not know it. For most other crops they differ by up to three times.
 */
#ifndef COTYLEDGER_CORE_EMERGENCE_H
#define COTYLEDGER_CORE_EMERGENCE_H

#include <stddef.h>
#include <stdint.h>

#include "cotyledger/core/err.h"

#define COT_SOIL_STEP 5 /* degrees C between what was measured, from 0 */
#define COT_SOIL_POINTS 9
enum { COT_EMERGED_NONE = -1, COT_EMERGED_NOT_TESTED = 0 }; /* in place of days */

struct cot_emergence_row {
    const char *crop; /* lower case: "tomato", "snap bean" */
    int16_t days[COT_SOIL_POINTS];
};
/* All rows by crop, *n of them; and one by its name, without regard to ASCII case; NULL if there is none. */
const struct cot_emergence_row *cot_emergence_rows(size_t *n);
const struct cot_emergence_row *cot_emergence_row(const char *crop);

#define COT_HEAT_LOW 15.0 /* degrees C between which a heat sum is used */
#define COT_HEAT_HIGH 25.0
struct cot_heat_row {
    const char *crop;
    double base, sum; /* degrees C; degree-days */
};
const struct cot_heat_row *cot_heat_row(const char *crop); /* NULL: the sources do not agree, or there is none */

/* sum / (celsius - base); NaN unless all are numbers, sum > 0 and celsius > base. */
double cot_heat_days(double base, double sum, double celsius);

enum cot_emergence_basis {
    COT_EMERGENCE_MEASURED, /* at this temperature */
    COT_EMERGENCE_HEAT,     /* between two that were measured, by the heat sum */
    COT_EMERGENCE_BETWEEN   /* between two that were measured, in proportion of the speed 1/days */
};
/* NOT_FOUND: no such crop in the table, or not tested at this temperature. INVALID: none emerges there; or no
 * temperature from 0 to 40 C. The fault says which. */
COT_MUSTCHECK enum cot_err cot_emergence_days(const char *crop, double celsius, double *days,
                                              enum cot_emergence_basis *basis, struct cot_fault *fault);

#endif
