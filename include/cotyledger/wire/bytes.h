/* Bytes: a growing buffer with a sticky failure, base64url, and escapes for each medium. */
#ifndef COTYLEDGER_WIRE_BYTES_H
#define COTYLEDGER_WIRE_BYTES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "cotyledger/core/err.h"
#include "cotyledger/core/fact.h"

/* After a failed allocation every put is a no-op and `failed` stays set: write straight on, check once.
 * `s` is always NUL-terminated once something was put; the caller frees with cot_buf_free. */
struct cot_buf {
    char *s;
    size_t len, cap;
    bool failed;
};
void cot_buf_free(struct cot_buf *b);
void cot_buf_clear(struct cot_buf *b);
void cot_buf_put(struct cot_buf *b, const void *bytes, size_t len);
void cot_buf_str(struct cot_buf *b, const char *s);
void cot_buf_fmt(struct cot_buf *b, const char *fmt, ...) COT_PRINTF(2, 3);

/* Base64url without padding (RFC 4648 section 5). Decoding is strict: no padding, no blanks, no stray bits. */
#define COT_B64_LEN(n) (((n)*4 + 2) / 3)
#define COT_ID_TEXT (COT_B64_LEN(32) + 1)    /* 43 and NUL */
#define COT_HOUSE_TEXT (COT_B64_LEN(16) + 1) /* 22 and NUL */
void cot_b64_text(const void *bytes, size_t len, char *out /* COT_B64_LEN(len) + 1 */);
bool cot_b64_parse(const char *s, size_t len, void *out, size_t out_len); /* exactly out_len bytes */
void cot_id_text(const struct cot_id *id, char out[static COT_ID_TEXT]);
bool cot_id_parse(const char *s, size_t len, struct cot_id *id);
void cot_house_text(const struct cot_house_id *h, char out[static COT_HOUSE_TEXT]);
bool cot_house_parse(const char *s, size_t len, struct cot_house_id *h);

/* Valid UTF-8 (RFC 3629: shortest form, no surrogates, at most U+10FFFF). */
bool cot_utf8_valid(const char *s, size_t len);
/* Columns a terminal uses for the text (combining marks 0, wide characters 2). */
size_t cot_text_columns(const char *s, size_t len);

/* Escapes. Terminal: control characters (C0, C1, DEL), bidi controls and zero-width characters are shown as
 * \u{XXXX}, so that no name can move the cursor or turn the line round. CSV: RFC 4180 quoting, and a cell that a
 * spreadsheet would run as a formula (= + - @ tab CR first) gets a leading apostrophe. JSON: RFC 8259. */
void cot_put_terminal(struct cot_buf *b, const char *s, size_t len);
void cot_put_csv(struct cot_buf *b, const char *s, size_t len);
void cot_put_json(struct cot_buf *b, const char *s, size_t len); /* with the quotes */

#endif
