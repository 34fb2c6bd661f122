/* Reports that the server makes of its own reading: the book's digest, and signed statements. */
#ifndef COTYLD_REPORTS_H
#define COTYLD_REPORTS_H

#include "books.h"
#include "cotyledger/wire/asking.h"
#include "cotyledger/wire/report.h"

/* Digest of what the session's asker may see, at the head or (at >= 0) at a position before it. */
COT_MUSTCHECK enum cot_err cot_report_book(struct cot_session *s, int64_t at, char digest[static COT_BOOK_DIGEST_TEXT],
                                           struct cot_fault *fault);

const char *cot_form_name(enum cot_form form);

/* The fill report's own bytes, from the staff's book; its last line names the digest of `view`. `farm` NULL: all farms.
 */
COT_MUSTCHECK enum cot_err cot_fill_body(struct cot_book *b, struct cot_book *view, int32_t on,
                                         const struct cot_id *farm, enum cot_form form, struct cot_buf *out,
                                         struct cot_fault *fault);
/* The same as a statement signed by the house (a JWS). A buyer gets its own farm's only: NOT_ALLOWED otherwise.
 * NOT_FOUND: no such farm. */
COT_MUSTCHECK enum cot_err cot_fill_statement(struct cot_session *s, int32_t on, const struct cot_id *farm,
                                              enum cot_form form, struct cot_buf *jws, struct cot_fault *fault);

/* What a what-if would change, text or JSON, as of day `on`. A buyer asks for its own farm, and is told of its own
 * lines only; `asked` without a farm is the asker's. Nothing is recorded and nothing is signed: it promises nothing.
 * Errors: NOT_FOUND, also for another farm's line; NOT_ALLOWED: another farm; INVALID: a change that cannot be. */
COT_MUSTCHECK enum cot_err cot_what_if_body(struct cot_session *s, int32_t on, struct cot_if_query *asked,
                                            enum cot_form form, struct cot_buf *out, struct cot_fault *fault);

#endif
