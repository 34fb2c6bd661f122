/* The plan of a season for eyes and programs. */
#ifndef COTYL_SHOW_PLAN_H
#define COTYL_SHOW_PLAN_H

#include "client.h"
#include "cotyledger/wire/report.h"
#include "cotyledger/core/season.h"

/* Five letters that change with anything in the plan that would be recorded. */
#define COT_PLAN_MARK 6
void cot_plan_mark(const struct cot_season *s, char out[static COT_PLAN_MARK]);

/* The sowings by day; for eyes with what follows below the table. */
COT_MUSTCHECK enum cot_err cot_plan_print(struct cot_cli *cli, const struct cot_season *s, enum cot_form form);
/* The lines and what the plan has for them. */
COT_MUSTCHECK enum cot_err cot_plan_lines_print(struct cot_cli *cli, const struct cot_season *s, enum cot_form form);

#endif
