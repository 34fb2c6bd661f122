/* Sheet: a CSV file read as things of one kind, and held against the book: what is new, what changes, what is the same.
 *
 * Headings come in any order and common spellings ("Variety", "Cultivar", "Qty", "plants wanted", ...); unknown
 * headings are an error unless they are blank. Dates are ISO, or in the stated format. Every bad cell is a problem with
 * line, column, heading and reason; with one problem nothing is taken (all or nothing).
 */
#ifndef COTYLEDGER_WIRE_SHEET_H
#define COTYLEDGER_WIRE_SHEET_H

#include "cotyledger/core/book.h"
#include "cotyledger/wire/csv.h"

struct cot_sheet_options {
    enum cot_kind kind;           /* FARM CROP VARIETY FORMAT PLATE LOT LINE */
    const struct cot_thing *farm; /* LINE: whose orders; NULL: the sheet has a farm column */
    const char *date_format;      /* NULL: ISO only; else see cot_day_parse_as */
};
enum cot_sheet_what { COT_SHEET_NEW, COT_SHEET_CHANGE, COT_SHEET_SAME };
struct cot_sheet_row {
    size_t line;
    enum cot_sheet_what what;
    const struct cot_thing *thing; /* of a change or the same */
    struct cot_fact fact;          /* kind, about, farm and fields filled: new: all; change: the changed only */
};
/* Column: of the table, 1 = A; 0 when the row as a whole is meant (then no heading). Heading and reason are plain text
 * out of the file: the caller escapes them. */
struct cot_sheet_problem {
    size_t line, column;
    char heading[40];
    char reason[400];
};
#define COT_SHEET_PROBLEMS_MAX 1000
struct cot_sheet {
    struct cot_sheet_row *row;
    size_t row_count; /* none when there is a problem */
    struct cot_sheet_problem *problem;
    size_t problem_count; /* the first COT_SHEET_PROBLEMS_MAX in order */
    size_t problem_total;
    char note[160]; /* how something open was read ("column 3, \"Qty\", is read as plants"); "" if nothing was */
    void *arena;
};
/* Natural keys: a thing's name (a variety's within its crop, a lot's within its variety); for order lines the farm with
 * `ref` when the row has one, else farm + variety + format + date, the k-th of the file being the k-th of the book; a
 * column `code` goes before both. An empty cell says nothing; `none` clears. Withdrawn lines and things taken back are
 * not matched. Errors: MALFORMED (not a CSV, no heading row, a required heading missing), MEMORY. Problems are no
 * error: read problem_count. */
COT_MUSTCHECK enum cot_err cot_sheet_read(struct cot_book *b, const struct cot_csv *csv,
                                          const struct cot_sheet_options *o, struct cot_sheet *out,
                                          struct cot_fault *fault);
void cot_sheet_free(struct cot_sheet *s);

/* One value as a person types it ("84 %", "1,200", "yes", "2027-03-29", a name of a thing) into the fact's field; text
 * is copied into `arena` by way of `keep`. Used by the sheet and the command line. The fault says field, value and what
 * would do. */
COT_MUSTCHECK enum cot_err cot_value_read(struct cot_book *b, struct cot_fact *f, enum cot_field field, const char *s,
                                          size_t len, const char *date_format, void *arena, struct cot_fault *fault);
void *cot_keep_new(void);
void cot_keep_free(void *arena);
void *cot_keep_alloc(void *arena, size_t size);              /* aligned for anything; NULL when out of memory */
char *cot_keep_text(void *arena, const char *s, size_t len); /* NUL-terminated copy */

/* The other way round: a value as a person reads it, units shown ("25.1 mL", "84 %", "2027-03-29", "Red Harbour"), as
 * plain text: the caller escapes it for its medium. Ids become names of things in the book, or the first 8 characters
 * of the id. */
void cot_value_text(struct cot_book *b, const struct cot_value *v, struct cot_buf *out);
/* Of an integer field: in metric units, and in those that the house of the book measures in (unit.h; b may be NULL). */
void cot_number_text(enum cot_field field, int64_t i, struct cot_buf *out);
void cot_measure_text(struct cot_book *b, enum cot_field field, int64_t i, struct cot_buf *out);

#endif
