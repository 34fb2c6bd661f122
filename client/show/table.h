/* Tables: for eyes (aligned, at most 80 columns, escaped), and the same rows as CSV or JSON for programs. */
#ifndef COTYL_SHOW_TABLE_H
#define COTYL_SHOW_TABLE_H

#include "client.h"
#include "cotyledger/wire/report.h"

struct cot_col {
    const char *key;     /* CSV heading, JSON member */
    const char *heading; /* for eyes; NULL: not shown there */
    bool number;         /* right-aligned; no quotes in JSON */
    bool yes_no;         /* cells "yes" and "no" are true and false in JSON */
};

/* Cells are appended row by row; the first failure to allocate sets `failed`, everything after is a no-op. `col` is
 * borrowed. */
struct cot_table {
    const struct cot_col *col;
    size_t cols;
    char **cell; /* NULL: nothing there */
    size_t count, cap;
    bool failed;
};
void cot_table_init(struct cot_table *t, const struct cot_col *col, size_t cols);
void cot_table_text(struct cot_table *t, const char *s); /* NULL: nothing there */
void cot_table_fmt(struct cot_table *t, const char *fmt, ...) COT_PRINTF(2, 3);
void cot_table_int(struct cot_table *t, int64_t i);
void cot_table_day(struct cot_table *t, int32_t day); /* COT_DAY_NONE: nothing there */
void cot_table_yes(struct cot_table *t, bool yes);
void cot_table_free(struct cot_table *t);
size_t cot_table_rows(const struct cot_table *t);

/* Text: `none` stands in place of an empty table. JSON: an array of objects, a row a line. */
COT_MUSTCHECK enum cot_err cot_table_put(const struct cot_table *t, enum cot_form form, const char *none,
                                         struct cot_buf *out);
/* The same to standard output, as the form says. */
COT_MUSTCHECK enum cot_err cot_table_print(struct cot_cli *cli, const struct cot_table *t, enum cot_form form,
                                           const char *none);

/* Puts raw text escaped, broken at blanks (and inside words that are longer than a line) so that no line passes 80
 * columns. `column` columns of the first line are taken already; further lines are indented by `indent`. Ends with LF.
 */
void cot_put_paragraph(struct cot_buf *out, const char *s, size_t column, size_t indent);
/* "  what          value", wrapped under the value at 80 columns; nothing for an empty value. `value` is raw. */
void cot_put_pair(struct cot_buf *out, const char *what, const char *value);

/* Writes a buffer to standard output; a failed buffer is MEMORY, a closed output IO. */
COT_MUSTCHECK enum cot_err cot_print(struct cot_cli *cli,
                                     const struct cot_buf *b); /* The form that --csv and --json ask for; USAGE when
                                                                  both do. `csv`: the option's value. */
COT_MUSTCHECK enum cot_err cot_form_asked(struct cot_cli *cli, const char *csv, enum cot_form *form);

#endif
