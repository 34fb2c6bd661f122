/* Time and chance, and the two ways to replace them for the demonstration and the tests:
 * COTYLEDGER_DEMO_CLOCK=FILE holds an instant (2027-03-29T08:00:00Z), read again at each use;
 * COTYLEDGER_DEMO_SEED=TEXT makes ids, keys and salts from the text. */
#ifndef COTYLD_CLOCK_H
#define COTYLD_CLOCK_H

#include "cotyledger/core/fact.h"

int64_t cot_clock_ms(void); /* milliseconds since 1970, UTC */
/* Random bytes. `purpose` names what they are for: under a demonstration seed it and a count decide them. */
void cot_chance(void *out, size_t len, const char *purpose);
/* Warns on stderr when either is replaced. False when the clock's file cannot be read. */
bool cot_clock_check(void);

#endif
