/* CSV (RFC 4180): UTF-8 with or without BOM; `;` or `,` or tab (found from the first record); CRLF or LF; quoted line
 * breaks. */
#ifndef COTYLEDGER_WIRE_CSV_H
#define COTYLEDGER_WIRE_CSV_H

#include "cotyledger/wire/bytes.h"

#define COT_CSV_COLUMNS_MAX 64
#define COT_CSV_BYTES_MAX (16u << 20)
#define COT_CSV_RECORDS_MAX 65536

struct cot_csv_record {
    size_t line; /* line of the file on which the record starts, 1.. */
    size_t count;
    const char *cell[COT_CSV_COLUMNS_MAX]; /* unquoted, trimmed of blanks, NUL-terminated */
    size_t len[COT_CSV_COLUMNS_MAX];
};
struct cot_csv;
/* Takes the whole file. MALFORMED (not UTF-8, a NUL, unclosed quote, text after a quote, a quote in a plain cell, a
 * lone CR; with line and column in characters), TOO_LARGE, MEMORY. Against RFC 4180 section 2 rule 4, blanks around a
 * cell are not its own. */
COT_MUSTCHECK enum cot_err cot_csv_open(const char *bytes, size_t len, struct cot_csv **out, struct cot_fault *fault);
void cot_csv_free(struct cot_csv *c);
/* Records without the blank ones; the first is the heading. */
size_t cot_csv_count(const struct cot_csv *c);
const struct cot_csv_record *cot_csv_record(const struct cot_csv *c, size_t i);

#endif
