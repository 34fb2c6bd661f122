/* What the files that read a sheet share. */
#ifndef COTYLEDGER_WIRE_SHEET_INNER_H
#define COTYLEDGER_WIRE_SHEET_INNER_H

#include "value.h"

/* What a column holds: a field of the kind, or one of these. */
enum {
    COT_COL_FARM = COT_F_COUNT, /* whose order it is */
    COT_COL_CROP,               /* whose variety is meant */
    COT_COL_QUANTITY,           /* plants or trays: the unit says */
    COT_COL_STOCK,              /* seeds or weight: the unit says */
    COT_COL_UNIT,               /* the unit of the row's quantity */
    COT_COL_CODE,               /* of an order line that is in the book */
    COT_COL_BLANK,              /* no heading: must be empty below */
    COT_COL_NONE
};

struct cot_column {
    int what;
    const char *heading;     /* as it stands in the file */
    char unit[COT_SQUEEZED]; /* from the heading; "" if none */
};

struct cot_sheet_reader {
    struct cot_book *book;
    const struct cot_csv *csv;
    const struct cot_sheet_options *o;
    struct cot_sheet *out;
    struct cot_fault *fault;
    struct cot_column column[COT_CSV_COLUMNS_MAX];
    size_t column_count;
    const struct cot_thing **farm; /* beside out->row: whose line it is; NULL if not said */
    const char **code;             /* beside out->row: of a line that is in the book; NULL if not said */
    size_t problem_cap;
};

/* What a heading means for the kind; COT_COL_NONE when nothing. */
int cot_heading_find(enum cot_kind kind, const char *heading, char unit[static COT_SQUEEZED]);
/* Reads the first record. MALFORMED: unknown, doubled or missing headings. */
COT_MUSTCHECK enum cot_err cot_headings_read(struct cot_sheet_reader *r);
/* Index of the column that holds `what`; -1 if none. */
int cot_column_of(const struct cot_sheet_reader *r, int what);

/* Notes a problem; `column` counted from 0, -1 for the row as a whole. */
COT_MUSTCHECK enum cot_err cot_sheet_problem(struct cot_sheet_reader *r, size_t line, int column, const char *reason);

/* Holds the rows against the book by their natural keys: sets what, thing, about, and leaves the changed fields. */
COT_MUSTCHECK enum cot_err cot_sheet_match(struct cot_sheet_reader *r);

#endif
