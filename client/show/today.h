/* The list on the wall, for eyes and programs. */
#ifndef COTYL_SHOW_TODAY_H
#define COTYL_SHOW_TODAY_H

#include "client.h"
#include "cotyledger/core/today.h"
#include "cotyledger/wire/report.h"

/* Five letters by which a job is called: made of what it is and is about, so that they stay when the list changes, and
 * of so many that two jobs hardly ever share them. "" for a job that nothing records (filling trays). */
#define COT_TODAY_MARK 6
void cot_today_mark(const struct cot_today_job *j, char out[static COT_TODAY_MARK]);

/* For eyes day by day, with the usual cautions below. */
COT_MUSTCHECK enum cot_err cot_today_print(struct cot_cli *cli, const struct cot_today *t, enum cot_form form);

/* "sow", "count" ...: for programs "move_out" and so on. */
const char *cot_today_word(enum cot_today_sort sort);

/* The job as a question on one line, without the line's end. */
COT_MUSTCHECK enum cot_err cot_today_ask(struct cot_cli *cli, const struct cot_today_job *j);

#endif
