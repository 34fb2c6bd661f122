/* The answer of a command that records: plain lines for people, one JSON object for scripts.
 *
 * Lines are collected as they are known and printed by cot_answer_give alone, so that a command that fails half-way has
 * said nothing. Texts are taken raw; they are escaped for the terminal or for JSON when they are printed, and wrapped
 * at 80 columns. People: lines and cautions on standard output, warnings on standard error. Scripts (--json):
 * {"recorded":[{"kind","digest","code"?}],"counts":{...}?,"cautions":[...]?,"warnings":[...]?} on standard output. */
#ifndef COTYL_ANSWER_H
#define COTYL_ANSWER_H

#include "client.h"

struct cot_recorded {
    enum cot_kind kind;
    struct cot_id digest;
    char code[COT_CODE_TEXT]; /* "" when the entry made nothing with a code */
};

struct cot_answer {
    struct cot_buf lines, cautions, warnings; /* each line ended by LF */
    struct cot_buf counts;                    /* scripts only: "name":N,... */
    struct cot_recorded *recorded;
    size_t count;
};

void cot_answer_line(struct cot_answer *a, const char *fmt, ...) COT_PRINTF(2, 3);
void cot_answer_caution(struct cot_answer *a, const char *fmt, ...) COT_PRINTF(2, 3);
void cot_answer_warn(struct cot_answer *a, const char *fmt, ...) COT_PRINTF(2, 3);

/* A figure for scripts alone, beside a line that says it to people. */
void cot_answer_count(struct cot_answer *a, const char *name, size_t n);

/* cot_record, and a note of each entry: its digest, the code it made, and a warning when the book did not take it as it
 * stands (queried, a request, a likely twin ...). May be called once for an answer. */
COT_MUSTCHECK enum cot_err cot_answer_record(struct cot_cli *cli, struct cot_answer *a, struct cot_fact *facts,
                                             size_t n);
/* Prints. IO when standard output fails: what was recorded stays recorded, and the fault says so. */
COT_MUSTCHECK enum cot_err cot_answer_give(struct cot_cli *cli, struct cot_answer *a);
void cot_answer_free(struct cot_answer *a);

/* Puts the text escaped for a terminal, broken at blanks so that no line passes 80 columns where it can be helped;
 * further lines are indented by `indent`. Ends with LF. */
void cot_put_wrapped(struct cot_buf *out, const char *text, size_t len, unsigned indent);

#endif
