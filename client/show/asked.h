/* What the options of commands that only show ask for. */
#ifndef COTYL_SHOW_ASKED_H
#define COTYL_SHOW_ASKED_H

#include "args.h"
#include "cotyledger/wire/report.h"

/* The day of an option, an ISO date; today when it is absent. */
COT_MUSTCHECK enum cot_err cot_day_asked(struct cot_cli *cli, const struct cot_args *a, const struct cot_opt *opts,
                                         const char *name, int32_t *day);
/* "As of 2027-03-01 (2027-W09)." above a table for eyes; nothing in the other forms. */
COT_MUSTCHECK enum cot_err cot_day_said(struct cot_cli *cli, int32_t day, enum cot_form form);

#endif
