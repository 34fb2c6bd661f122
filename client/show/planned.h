/* Planned sowings against what was sown. */
#ifndef COTYL_SHOW_PLANNED_H
#define COTYL_SHOW_PLANNED_H

#include "client.h"
#include "cotyledger/core/fill.h"
#include "cotyledger/core/planned.h"

/* "to come", "3 days late", "sown", "sown 2 days early, 1 tray more", "2 of 6 trays sown"; for a column of a list,
 * `brief`, "sown early, 1 more". */
void cot_planned_words(const struct cot_planned_done *d, bool brief, struct cot_buf *out);
/* "to_come", "late", "part", "done", "dropped": for programs. */
const char *cot_planned_state_word(enum cot_planned_state state);

/* What was sown for it by day `on`: a heading and lines below the fields; for programs ,"done":{...}. */
void cot_planned_put_text(struct cot_cli *cli, const struct cot_thing *t, const struct cot_fill *fill,
                          struct cot_buf *out);
void cot_planned_put_json(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out);

#endif
