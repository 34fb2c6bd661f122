/* The reports in their forms. The same bytes on both sides for the same book and day. Columns and keys are stable
 * and described in docs/reports.md; a change of them raises the version. */
#ifndef COTYLEDGER_WIRE_REPORT_H
#define COTYLEDGER_WIRE_REPORT_H

#include "cotyledger/core/remedy.h"
#include "cotyledger/wire/bytes.h"

#define COT_REPORT_VERSION 1

/* HTML: one file by itself, for a screen or for paper; of the fill report alone. */
enum cot_form { COT_FORM_TEXT, COT_FORM_CSV, COT_FORM_JSON, COT_FORM_HTML };
bool cot_form_by_name(const char *name, enum cot_form *form); /* "text", "csv", "json", "html" */

/* Fill report of one farm, or of all (`farm` NULL: every farm, then the house's overview). Text: at most 80 columns, no
 * colour. JSON: schema in docs/reports.md. The last lines (text), columns (CSV) or members (JSON) name the ledger's
 * position and the book's digest. */
COT_MUSTCHECK enum cot_err cot_report_fill(const struct cot_fill *f, struct cot_book *b, const struct cot_id *farm,
                                           enum cot_form form, struct cot_buf *out);
/* The same, naming position and digest of another reading: of the farm's own view, say, which its buyers can check. */
COT_MUSTCHECK enum cot_err cot_report_fill_seen(const struct cot_fill *f, struct cot_book *b, const struct cot_id *farm,
                                                enum cot_form form, struct cot_book *view, struct cot_buf *out);
/* The lines that are short or in doubt only; sums and overview are of all lines. */
COT_MUSTCHECK enum cot_err cot_report_fill_short(const struct cot_fill *f, struct cot_book *b,
                                                 const struct cot_id *farm, enum cot_form form, struct cot_buf *out);
/* Hand-overs booked by day `on`, as cot_handovers_read gives them. */
COT_MUSTCHECK enum cot_err cot_report_handovers(const struct cot_handover_row *rows, size_t n, struct cot_book *b,
                                                int32_t on, enum cot_form form, struct cot_buf *out);

/* What a what-if would change: text or JSON (no CSV: INVALID). `change` has a line; `view` as above. */
COT_MUSTCHECK enum cot_err cot_report_what_if(const struct cot_effect *e, const struct cot_what_if *change,
                                              struct cot_book *b, struct cot_book *view, enum cot_form form,
                                              struct cot_buf *out);

/* What can be done for lines short or in doubt: text or JSON (no CSV: INVALID), with the usual cautions beside the work
 * that remedies make somebody do. */
COT_MUSTCHECK enum cot_err cot_report_remedies(const struct cot_remedies *m, struct cot_book *b, enum cot_form form,
                                               struct cot_buf *out);

/* "9 in 10" for 900 per mille. */
#define COT_ODDS_TEXT 16
void cot_odds_text(int32_t permille, char out[static COT_ODDS_TEXT]);
/* A chance in whole percent: never 0 % or 100 % unless it is. "97 %", "under 1 %", "over 99 %". */
#define COT_CHANCE_TEXT 16
void cot_chance_text(double p, char out[static COT_CHANCE_TEXT]);
/* The same beside a verdict: a chance short of the confidence (per mille) by a hair is not shown as if it reached it,
 * but "89.7 %". */
void cot_chance_beside(double p, int32_t confidence, char out[static COT_CHANCE_TEXT]);

/* A line's chance as it is told: short of 1 and 0 where only the supplies looked at say so. 1 when nothing more is to
 * come, 0 when nothing is known that could fill it. `line` is an index into the fill's lines. */
double cot_chance_told(const struct cot_fill *f, uint32_t line);

/* Text escaped for a terminal in exactly `width` columns: blanks behind it, or cut with an ellipsis. */
void cot_put_fit(struct cot_buf *b, const char *s, size_t len, size_t width);
/* The line so far, from byte `from` on: blanks at its end go, what is beyond `width` columns is cut with an ellipsis, a
 * line break is put. The text is escaped already. */
void cot_put_line_end(struct cot_buf *b, size_t from, size_t width);

/* The usual caution beside work with treated seed. */
#define COT_CAUTION_MIX "mix may carry Legionella: keep it damp, do not breathe its dust, wash your hands"
#define COT_CAUTION_LIFT "wet trays are heavy: use a cart or two people, lift with a straight back"
#define COT_CAUTION_HEAT "under glass it gets hot early: drink, rest in the shade, stop when you feel dizzy"
#define COT_CAUTION_TREATED                                                                                            \
    "treated seed: gloves, wash hands, keep from food and feed; follow the label and local rules"
#endif
