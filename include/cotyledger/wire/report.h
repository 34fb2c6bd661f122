/* The reports in their three forms. The same bytes on both sides for the same book and day. */
#ifndef COTYLEDGER_WIRE_REPORT_H
#define COTYLEDGER_WIRE_REPORT_H

#include "cotyledger/core/fill.h"
#include "cotyledger/wire/bytes.h"

enum cot_form { COT_FORM_TEXT, COT_FORM_CSV, COT_FORM_JSON };

/* Fill report of one farm, or of all (`farm` NULL: every farm, then the house's overview). Text: at most 80 columns, no colour.
 * JSON: schema in docs/reports.md. The last line (text) or member (JSON) names the ledger's position and the book's digest. */
COT_MUSTCHECK enum cot_err cot_report_fill(const struct cot_fill *f, struct cot_book *b, const struct cot_id *farm,
                                           enum cot_form form, struct cot_buf *out);
COT_MUSTCHECK enum cot_err cot_report_handovers(const struct cot_handover_row *rows, size_t n, enum cot_form form,
                                                struct cot_buf *out);
#endif
