/* Whether counts and tests are believable, in words. Core says which; see cotyledger/core/check.h. */
#ifndef COTYL_SHOW_BELIEF_H
#define COTYL_SHOW_BELIEF_H

#include "client.h"
#include "cotyledger/core/check.h"

struct cot_answer;

/* "1 in 40", "1 in 3,000", "less than 1 in a million"; 0.5 and more "more often than not". */
#define COT_RARE_TEXT 40
const char *cot_rare_text(double chance, char out[static COT_RARE_TEXT]);

/* The part of a batch's or lot's page; nothing where there is nothing to say. */
void cot_check_put_text(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out);
/* ,"check":{...} of a batch with counts or a lot with a test; nothing otherwise. */
void cot_check_put_json(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out);

/* After a stand count: what is hardly believable of the trays it named (none: of the whole count). */
void cot_check_warn(struct cot_cli *cli, const struct cot_thing *batch, int32_t on,
                    const struct cot_tray_count *counted, size_t n, struct cot_answer *answer);

#endif
