/* A sheet held against the book, for eyes and programs. */
#ifndef COTYL_SHOW_IMPORT_H
#define COTYL_SHOW_IMPORT_H

#include "client.h"
#include "cotyledger/wire/sheet.h"

#define COT_PROBLEMS_SHOWN 100

struct cot_import_sum {
    size_t fresh, changed, same;
};
void cot_import_count(const struct cot_sheet *s, struct cot_import_sum *sum);
/* "12 new, 3 changed, 40 the same" */
#define COT_IMPORT_SUM_TEXT 96
void cot_import_sum_text(const struct cot_import_sum *sum, char out[static COT_IMPORT_SUM_TEXT]);

/* FILE:LINE:COLUMN: heading: reason, up to 100 lines, then how many more. */
void cot_import_problems_text(const struct cot_sheet *s, const char *file, struct cot_buf *out);
/* A row a paragraph: line, new or changed, and what would be recorded. */
void cot_import_rows_text(struct cot_cli *cli, const struct cot_sheet *s, struct cot_buf *out);
/* {"file","new","changed","same","note","problems":[...],"problem_total","rows":[...]} */
void cot_import_json(struct cot_cli *cli, const struct cot_sheet *s, const char *file, struct cot_buf *out);

#endif
