/* Times as people read them. */
#ifndef COTYL_CLOCK_H
#define COTYL_CLOCK_H

#include "client.h"

bool cot_demo_clock_set(void);
/* Minutes east of UTC: the house's rule, else this laptop's zone. */
int cot_house_offset(struct cot_cli *cli);
#define COT_INSTANT_TEXT 24 /* "2027-03-29 06:30" */
void cot_instant_text(int64_t ms, int offset, char out[static COT_INSTANT_TEXT]);

#endif
