/* What the wire's own files share and nobody else sees. */
#ifndef COTYLEDGER_WIRE_INNER_H
#define COTYLEDGER_WIRE_INNER_H

#include "cotyledger/wire/entry.h"

/* Room for `len` more bytes and a NUL; NULL after a failure. The caller writes them and adds to `len` of the buffer. */
char *cot_buf_room(struct cot_buf *b, size_t len);
void cot_put_b64(struct cot_buf *b, const void *bytes, size_t len);    /* base64url, no padding */
void cot_put_base64(struct cot_buf *b, const void *bytes, size_t len); /* RFC 4648 section 4, padded */

/* Next code point of valid UTF-8 at *p, moving it on; COT_UTF8_BAD without moving when the bytes are not valid there.
 */
#define COT_UTF8_BAD UINT32_MAX
uint32_t cot_utf8_next(const char **p, const char *end);

#define COT_TRAY_NUMBER_MAX 100000   /* trays of a batch */
#define COT_TRAY_FIGURE_MAX 10000000 /* cells, as in the fields of a pooled count */

/* The lexical rules of the entry grammar over raw bytes, before any JSON parser sees them. */
COT_MUSTCHECK enum cot_err cot_lex_check(const char *s, size_t len, struct cot_fault *fault);

/* A strict reader of fixed forms: each step is a no-op once `bad` is set, so a whole form is read straight on. */
struct cot_scan {
    const char *p, *end;
    bool bad;
};
void cot_scan_lit(struct cot_scan *s, const char *text);
/* Decimal digits without sign or leading zeros, min .. 2^53-1. */
int64_t cot_scan_int(struct cot_scan *s, int64_t min);
void cot_scan_b64(struct cot_scan *s, void *out, size_t len);
void cot_scan_tag(struct cot_scan *s, char out[static COT_TAG_MAX + 1]);
bool cot_scan_done(const struct cot_scan *s); /* all read and nothing bad */

#endif
