/* Planned sowings that people describe by hand. */
#ifndef COTYL_PLANNED_H
#define COTYL_PLANNED_H

#include "work.h"

/* Readies the fact of a planned sowing that is added (`t` NULL) or changed: whole trays take the place of rows of a
 * shared tray and the other way round, and what the person said is pinned beside what was pinned before, unless --pins
 * said otherwise. INVALID for one that was dropped. */
COT_MUSTCHECK enum cot_err cot_planned_prepare(struct cot_job *w, const struct cot_thing *t);

/* The planned sowing that a sowing carries out, by its code; warns of one that was dropped. */
COT_MUSTCHECK enum cot_err cot_planned_find(struct cot_job *w, const char *typed, const struct cot_thing **out);

#endif
