/* Lists of things of one sort. */
#ifndef COTYL_SHOW_LISTS_H
#define COTYL_SHOW_LISTS_H

#include "cotyledger/core/fill.h"
#include "table.h"
#include "things.h"

/* Prints all things of the sort as of day `on` (batches: their stand that day; lines: what became of them). */
COT_MUSTCHECK enum cot_err cot_list_print(struct cot_cli *cli, const struct cot_sort *sort, int32_t on,
                                          enum cot_form form);

/* Planned sowings by their day, and what was sown for them by day `on`; those that were dropped are left out. */
COT_MUSTCHECK enum cot_err cot_planned_print(struct cot_cli *cli, int32_t on, enum cot_form form);
/* What is on hand by day `on`, and how long ago it was counted. */
COT_MUSTCHECK enum cot_err cot_stock_print(struct cot_cli *cli, int32_t on, enum cot_form form);
/* Closed days of the house and days on which a place is out of use, those that are over on day `on` too. */
COT_MUSTCHECK enum cot_err cot_shut_print(struct cot_cli *cli, int32_t on, enum cot_form form);

/* Notes written by day `on`, the newest last, with farm, day and writer. */
COT_MUSTCHECK enum cot_err cot_notes_print(struct cot_cli *cli, int32_t on, enum cot_form form);

/* Order lines, of one farm or all; with `waiting` only those that wait for the house's word. */
COT_MUSTCHECK enum cot_err cot_lines_print(struct cot_cli *cli, const struct cot_thing *farm, bool waiting, int32_t on,
                                           enum cot_form form);
/* "promised", "part promised", "waiting", "declined", "part declined", "withdrawn", "part handed over", "handed over";
 * "..., change asked for" when a request waits. `l` NULL for a line that no longer counts. */
#define COT_STATE_TEXT 48
void cot_line_state(const struct cot_fill_line *l, char out[static COT_STATE_TEXT]);

/* --- For the files of this room ------------------------------------------------------------------------------------
 */

/* Columns and rows of a sort of things for eyes, as of day `on`. */
struct cot_view {
    enum cot_thing_type type;
    const struct cot_col *col;
    size_t cols;
    void (*row)(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, int32_t on);
};
extern const struct cot_view cot_place_view, cot_raising_view;

/* Programs get the columns with a key, eyes those with a heading. */
COT_MUSTCHECK enum cot_err cot_keyed_print(struct cot_cli *cli, const struct cot_table *all, enum cot_form form,
                                           const char *none);
/* The next cell: a field's value in people's words; "28 to 42" of two numbers. */
void cot_table_field(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, enum cot_field f);
void cot_table_range(struct cot_table *t, const struct cot_thing *thing, enum cot_field low, enum cot_field high);

#endif
