/* Lists of things of one sort. */
#ifndef COTYL_SHOW_LISTS_H
#define COTYL_SHOW_LISTS_H

#include "cotyledger/core/fill.h"
#include "table.h"
#include "things.h"

/* Prints all things of the sort as of day `on` (batches: their stand that day; lines: what became of them). */
COT_MUSTCHECK enum cot_err cot_list_print(struct cot_cli *cli, const struct cot_sort *sort, int32_t on,
                                          enum cot_form form);

/* Notes written by day `on`, the newest last, with farm, day and writer. */
COT_MUSTCHECK enum cot_err cot_notes_print(struct cot_cli *cli, int32_t on, enum cot_form form);

/* Order lines, of one farm or all; with `waiting` only those that wait for the house's word. */
COT_MUSTCHECK enum cot_err cot_lines_print(struct cot_cli *cli, const struct cot_thing *farm, bool waiting, int32_t on,
                                           enum cot_form form);
/* "promised", "part promised", "waiting", "declined", "part declined", "withdrawn", "part handed over", "handed over";
 * "..., change asked for" when a request waits. `l` NULL for a line that no longer counts. */
#define COT_STATE_TEXT 48
void cot_line_state(const struct cot_fill_line *l, char out[static COT_STATE_TEXT]);
/* The line's row of the fill; NULL if it has none. */
const struct cot_fill_line *cot_fill_line_of(const struct cot_fill *f, const struct cot_id *line);

#endif
