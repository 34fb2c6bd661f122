/* The entry: one line of UTF-8 JSON, canonical grammar v1 (docs/protocol.md, "Entry"). Frozen.
 *
 *   {"v":1,"house":H,"device":"B","n":12,"clock":[1806307200000,0],"seen":345,"member":I,"kind":"count",
 *    "about":I,"farm":I,"carries":I,"salt":S,"body":{...}}
 *
 * Refused (COT_MALFORMED): over 16 KiB, not UTF-8, a line break or control character, text that unescapes to a control
 * character or an unpaired surrogate, duplicate keys, reals, -0, integers beyond +-(2^53-1), depth over 8, a header key
 * missing or of the wrong type, v other than 1. Members of the house are not: unknown kinds, unknown header keys and
 * body fields are kept, and a kind or field that is not understood sets the fact's `flaw`.
 */
#ifndef COTYLEDGER_WIRE_ENTRY_H
#define COTYLEDGER_WIRE_ENTRY_H

#include "cotyledger/wire/bytes.h"

#define COT_ENTRY_MAX 16384
#define COT_ENTRY_DEPTH 8
#define COT_INT_MAX 9007199254740991LL

/* Scratch memory of one decoder; reused from entry to entry. The fact's pointers live in it until the next parse. */
struct cot_decoder;
struct cot_decoder *cot_decoder_new(void);
void cot_decoder_free(struct cot_decoder *d);

/* The one parser for both sides. `line` without its line break. The fault names the byte offset or the key. */
COT_MUSTCHECK enum cot_err cot_entry_parse(struct cot_decoder *d, const char *line, size_t len, struct cot_fact *out,
                                           struct cot_fault *fault);

/* Writes a new entry's line (no line break) from a fact whose header is filled. Fields in order of enum cot_field.
 * COT_TOO_LARGE over COT_ENTRY_MAX. The caller has had cot_fact_check pass. */
COT_MUSTCHECK enum cot_err cot_entry_write(const struct cot_fact *f, struct cot_buf *out, struct cot_fault *fault);

#endif
