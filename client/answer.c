#include "answer.h"

#include <stdlib.h>
#include <string.h>

#define COLUMNS 80

static void COT_PRINTF(2, 0) put_line(struct cot_buf *b, const char *fmt, va_list ap)
{
    char text[4096];
    int n = vsnprintf(text, sizeof text, fmt, ap);
    if (n < 0) return;
    cot_buf_str(b, text);
    cot_buf_str(b, "\n");
}

void cot_answer_line(struct cot_answer *a, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    put_line(&a->lines, fmt, ap);
    va_end(ap);
}

void cot_answer_caution(struct cot_answer *a, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    put_line(&a->cautions, fmt, ap);
    va_end(ap);
}

void cot_answer_warn(struct cot_answer *a, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    put_line(&a->warnings, fmt, ap);
    va_end(ap);
}

void cot_answer_count(struct cot_answer *a, const char *name, size_t n)
{
    cot_buf_fmt(&a->counts, "%s\"%s\":%zu", a->counts.len > 0 ? "," : "", name, n);
}

void cot_put_wrapped(struct cot_buf *out, const char *text, size_t len, unsigned indent)
{
    size_t column = 0, at = 0;
    while (at < len) {
        size_t end = at;
        while (end < len && text[end] != ' ') end++;
        struct cot_buf word = {0};
        cot_put_terminal(&word, text + at, end - at);
        size_t wide = word.s ? cot_text_columns(word.s, word.len) : 0;
        if (column > 0 && column + 1 + wide > COLUMNS) {
            cot_buf_fmt(out, "\n%*s", (int)indent, "");
            column = indent;
        } else if (at > 0) {
            cot_buf_str(out, " ");
            column++;
        }
        if (word.len > 0) cot_buf_put(out, word.s, word.len);
        if (word.failed) out->failed = true;
        cot_buf_free(&word);
        column += wide;
        at = end + 1;
    }
    cot_buf_str(out, "\n");
}

/* What a person has to know about an entry that does not simply stand. */
static void warn_verdict(struct cot_answer *a, const struct cot_note *note, const char *code)
{
    const char *what = note->fact ? cot_kind_row(note->fact->kind)->what : "record";
    const char *sep = code[0] ? " " : "";
    switch (note->verdict) {
    case COT_BOOKED:
        if (note->flags != 0) cot_answer_warn(a, "%s%s%s: %s", what, sep, code, note->reason);
        break;
    case COT_QUERIED:
        cot_answer_warn(a,
                        "%s%s%s: kept, but it does not count yet: %s. `cotyl status` lists it until somebody answers.",
                        what, sep, code, note->reason);
        break;
    case COT_REQUEST:
        cot_answer_warn(a, "%s%s%s: kept as a request: %s. It counts when a manager has said yes.", what, sep, code,
                        note->reason);
        break;
    case COT_ASIDE:
    case COT_TAKEN_BACK:
    case COT_TWICE:
        cot_answer_warn(a, "%s%s%s: kept, but left out: %s", what, sep, code, note->reason);
        break;
    }
}

static void note_entry(struct cot_cli *cli, struct cot_answer *a, size_t i)
{
    struct cot_recorded *r = &a->recorded[i];
    struct cot_note note;
    if (!cot_book_verdict(cli->book, &r->digest, &note)) return;
    const struct cot_value *code = note.fact ? cot_fact_value(note.fact, COT_F_CODE) : NULL;
    if (code && code->type == COT_T_TEXT && code->len < sizeof r->code) {
        memcpy(r->code, code->v.text, code->len);
        r->code[code->len] = '\0';
    }
    warn_verdict(a, &note, r->code);
}

enum cot_err cot_answer_record(struct cot_cli *cli, struct cot_answer *a, struct cot_fact *facts, size_t n)
{
    enum cot_err err;
    struct cot_id *digest = calloc(n, sizeof *digest);
    a->recorded = calloc(n, sizeof *a->recorded);
    if (!digest || !a->recorded) {
        err = cot_fail(&cli->fault, COT_MEMORY, "out of memory: nothing was recorded");
        goto out;
    }
    err = cot_record(cli, facts, n, digest);
    if (err != COT_OK) goto out;
    a->count = n;
    for (size_t i = 0; i < n; i++) {
        a->recorded[i].kind = facts[i].kind;
        a->recorded[i].digest = digest[i];
        note_entry(cli, a, i);
    }
out:
    free(digest);
    return err;
}

/* The next line of a buffer of lines; false at the end. */
static bool next_line(const struct cot_buf *b, size_t *at, const char **line, size_t *len)
{
    if (!b->s || *at >= b->len) return false;
    const char *end = memchr(b->s + *at, '\n', b->len - *at);
    *line = b->s + *at;
    *len = end ? (size_t)(end - *line) : b->len - *at;
    *at += *len + 1;
    return true;
}

static void put_people(struct cot_buf *out, const struct cot_buf *lines, const char *before)
{
    const char *line;
    size_t at = 0, len;
    while (next_line(lines, &at, &line, &len)) {
        struct cot_buf text = {0};
        cot_buf_str(&text, before);
        cot_buf_put(&text, line, len);
        if (text.failed) out->failed = true;
        if (text.s) cot_put_wrapped(out, text.s, text.len, 2 + (unsigned)strspn(text.s, " "));
        cot_buf_free(&text);
    }
}

static void put_list(struct cot_buf *out, const char *name, const struct cot_buf *lines)
{
    const char *line;
    size_t at = 0, len;
    for (bool first = true; next_line(lines, &at, &line, &len); first = false) {
        if (first) cot_buf_fmt(out, ",\"%s\":[", name);
        if (!first) cot_buf_str(out, ",");
        cot_put_json(out, line, len);
    }
    if (at > 0) cot_buf_str(out, "]");
}

static void put_scripts(struct cot_buf *out, const struct cot_answer *a)
{
    cot_buf_str(out, "{\"recorded\":[");
    for (size_t i = 0; i < a->count; i++) {
        char digest[COT_ID_TEXT];
        cot_id_text(&a->recorded[i].digest, digest);
        cot_buf_fmt(out, "%s{\"kind\":\"%s\",\"digest\":\"%s\"", i ? "," : "", cot_kind_row(a->recorded[i].kind)->name,
                    digest);
        if (a->recorded[i].code[0]) cot_buf_fmt(out, ",\"code\":\"%s\"", a->recorded[i].code);
        cot_buf_str(out, "}");
    }
    cot_buf_str(out, "]");
    if (a->counts.len > 0) cot_buf_fmt(out, ",\"counts\":{%s}", a->counts.s);
    put_list(out, "cautions", &a->cautions);
    put_list(out, "warnings", &a->warnings);
    cot_buf_str(out, "}\n");
}

enum cot_err cot_answer_give(struct cot_cli *cli, struct cot_answer *a)
{
    enum cot_err err = COT_OK;
    const char *kept = a->count > 0 ? "; it is recorded all the same" : "";
    struct cot_buf out = {0}, warn = {0};
    if (cli->json) {
        put_scripts(&out, a);
    } else {
        put_people(&out, &a->lines, "");
        put_people(&out, &a->cautions, "Caution: ");
        put_people(&warn, &a->warnings, "warning: ");
    }
    if (out.failed || warn.failed || a->lines.failed || a->counts.failed || a->cautions.failed || a->warnings.failed)
        err = cot_fail(&cli->fault, COT_MEMORY, "out of memory while writing the answer%s", kept);
    else if ((out.len > 0 && fwrite(out.s, 1, out.len, stdout) != out.len) || fflush(stdout) != 0)
        err = cot_fail(&cli->fault, COT_IO, "unable to write the answer to standard output%s", kept);
    if (err == COT_OK && warn.len > 0) fputs(warn.s, stderr);
    cot_buf_free(&out);
    cot_buf_free(&warn);
    return err;
}

void cot_answer_free(struct cot_answer *a)
{
    cot_buf_free(&a->lines);
    cot_buf_free(&a->counts);
    cot_buf_free(&a->cautions);
    cot_buf_free(&a->warnings);
    free(a->recorded);
    memset(a, 0, sizeof *a);
}
