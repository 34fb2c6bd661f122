/* CSV: splits the file's own copy in place, one record at a time. */
#include "cotyledger/wire/csv.h"

#include <stdlib.h>
#include <string.h>

struct cot_csv {
    char *bytes; /* the copy; cells point into it */
    struct cot_csv_record *record;
    size_t count, cap;
};

struct reader {
    struct cot_csv *csv;
    char *at, *end;
    char *line_start; /* of the line that `at` is on */
    size_t line;
    char separator;
    struct cot_fault *fault;
};

static size_t column_at(const char *line_start, const char *at)
{
    size_t column = 1;
    for (const char *p = line_start; p < at; p++) column += ((unsigned char)*p & 0xC0) != 0x80;
    return column;
}

static enum cot_err bad(struct reader *r, const char *at, const char *what, const char *todo)
{
    enum cot_err err =
        cot_fail(r->fault, COT_MALFORMED, "line %zu, column %zu: %s", r->line, column_at(r->line_start, at), what);
    (void)cot_hint(r->fault, "%s", todo);
    return err;
}

/* Length of the UTF-8 character at p, 0 when it is none. */
static size_t character(const char *p, const char *end)
{
    size_t most = (size_t)(end - p) < 4 ? (size_t)(end - p) : 4;
    for (size_t n = 1; n <= most; n++)
        if (cot_utf8_valid(p, n)) return n;
    return 0;
}

/* The first place that is not UTF-8 or a NUL, told by line and column. */
static enum cot_err check_bytes(struct reader *r)
{
    if (r->end - r->at >= 2 && (memcmp(r->at, "\xff\xfe", 2) == 0 || memcmp(r->at, "\xfe\xff", 2) == 0))
        return bad(r, r->at, "the file is UTF-16", "save it again as CSV in UTF-8");
    bool valid = cot_utf8_valid(r->at, (size_t)(r->end - r->at)) && !memchr(r->at, 0, (size_t)(r->end - r->at));
    if (valid) return COT_OK;
    for (char *p = r->at; p < r->end;) {
        size_t n = *p == '\0' ? 0 : character(p, r->end);
        if (n == 0) return bad(r, p, "a byte here is no text in UTF-8", "save the file again as CSV in UTF-8");
        if (*p == '\n') {
            r->line++;
            r->line_start = p + 1;
        }
        p += n;
    }
    return COT_OK;
}

/* Tab, `;` or `,`: whichever the first record has most of, outside quotes; the earlier of two alike, `,` when it has
 * none. */
static char find_separator(const char *at, const char *end)
{
    static const char candidates[] = "\t;,";
    size_t seen[3] = {0};
    bool quoted = false, any = false;
    for (; at < end; at++) {
        if (*at == '"') quoted = !quoted;
        if (*at == '\n' && !quoted && any) break;
        any = any || !strchr(" \t\r\n", *at);
        const char *c = quoted ? NULL : strchr(candidates, *at);
        if (c) seen[c - candidates]++;
    }
    size_t best = 0;
    for (size_t i = 1; i < 3; i++)
        if (seen[i] > seen[best]) best = i;
    return seen[best] > 0 ? candidates[best] : ',';
}

static bool is_blank(const struct reader *r, const char *p)
{
    return *p == ' ' || (*p == '\t' && r->separator != '\t');
}

/* Takes blanks and no-break blanks off both ends; ends the cell with NUL. */
static void trim(char **start, char *end)
{
    char *s = *start;
    for (;;) {
        if (s < end && strchr(" \t\r\n", *s)) s++;
        else if (end - s >= 2 && memcmp(s, "\xc2\xa0", 2) == 0) s += 2;
        else break;
    }
    for (;;) {
        if (s < end && strchr(" \t\r\n", end[-1])) end--;
        else if (end - s >= 2 && memcmp(end - 2, "\xc2\xa0", 2) == 0) end -= 2;
        else break;
    }
    *end = '\0';
    *start = s;
}

/* A quoted cell; `at` is on the opening quote. Leaves `at` behind the closing one, and the text in start..end. */
static enum cot_err quoted_cell(struct reader *r, char **start, char **end)
{
    char *open = r->at, *to = ++r->at;
    char *open_line_start = r->line_start;
    size_t open_line = r->line;
    *start = to;
    for (;; r->at++) {
        if (r->at == r->end) {
            r->line = open_line;
            r->line_start = open_line_start;
            return bad(r, open, "this quote is never closed",
                       "close it with another \"; a quote inside a quoted cell is written twice");
        }
        if (*r->at == '"') {
            if (r->at + 1 == r->end || r->at[1] != '"') break;
            r->at++;
        } else if (*r->at == '\n') {
            r->line++;
            r->line_start = r->at + 1;
        }
        *to++ = *r->at;
    }
    *end = to;
    r->at++;
    while (r->at < r->end && is_blank(r, r->at)) r->at++;
    if (r->at == r->end || *r->at == r->separator || *r->at == '\n' ||
        (*r->at == '\r' && r->at + 1 < r->end && r->at[1] == '\n'))
        return COT_OK;
    return bad(r, r->at, "text after a closing quote", "write a quote inside a quoted cell twice");
}

static enum cot_err plain_cell(struct reader *r, char **start, char **end)
{
    *start = r->at;
    for (; r->at < r->end && *r->at != r->separator && *r->at != '\n'; r->at++) {
        if (*r->at == '"')
            return bad(r, r->at, "a quote inside a cell that has none around it",
                       "put quotes around the cell, and write the inner one twice");
        if (*r->at != '\r') continue;
        if (r->at + 1 < r->end && r->at[1] == '\n') break;
        return bad(r, r->at, "a carriage return without a line feed", "save the file with line ends of CR LF or LF");
    }
    *end = r->at;
    return COT_OK;
}

/* One cell, and what follows it: true in *last when the record ends here. */
static enum cot_err read_cell(struct reader *r, char **start, char **end, bool *last)
{
    while (r->at < r->end && is_blank(r, r->at)) r->at++;
    enum cot_err err = r->at < r->end && *r->at == '"' ? quoted_cell(r, start, end) : plain_cell(r, start, end);
    if (err != COT_OK) return err;
    *last = true;
    if (r->at == r->end) return COT_OK;
    if (*r->at == r->separator) {
        *last = false;
        r->at++;
        return COT_OK;
    }
    r->at += *r->at == '\r' ? 2 : 1;
    r->line++;
    r->line_start = r->at;
    return COT_OK;
}

static enum cot_err grow(struct reader *r)
{
    struct cot_csv *c = r->csv;
    if (c->count < c->cap) return COT_OK;
    if (c->count >= COT_CSV_RECORDS_MAX)
        return cot_fail(r->fault, COT_TOO_LARGE, "line %zu: more than %d records", r->line, COT_CSV_RECORDS_MAX);
    size_t cap = c->cap ? c->cap * 2 : 64;
    struct cot_csv_record *record = realloc(c->record, cap * sizeof *record);
    if (!record) return cot_fail(r->fault, COT_MEMORY, "out of memory");
    c->record = record;
    c->cap = cap;
    return COT_OK;
}

/* One record; counted only when some cell of it holds something. */
static enum cot_err read_record(struct reader *r)
{
    enum cot_err err = grow(r);
    if (err != COT_OK) return err;
    struct cot_csv_record *record = &r->csv->record[r->csv->count];
    *record = (struct cot_csv_record){.line = r->line};
    bool last = false, any = false;
    char *ends[COT_CSV_COLUMNS_MAX], *starts[COT_CSV_COLUMNS_MAX];
    while (!last) {
        if (record->count == COT_CSV_COLUMNS_MAX)
            return cot_fail(r->fault, COT_TOO_LARGE, "line %zu: more than %d columns", record->line,
                            COT_CSV_COLUMNS_MAX);
        size_t i = record->count++;
        err = read_cell(r, &starts[i], &ends[i], &last);
        if (err != COT_OK) return err;
    }
    /* Cells are ended only now: a NUL would stand where the separator was still to be read. */
    for (size_t i = 0; i < record->count; i++) {
        trim(&starts[i], ends[i]);
        record->cell[i] = starts[i];
        record->len[i] = strlen(starts[i]);
        any = any || record->len[i] > 0;
    }
    r->csv->count += any;
    return COT_OK;
}

enum cot_err cot_csv_open(const char *bytes, size_t len, struct cot_csv **out, struct cot_fault *fault)
{
    *out = NULL;
    if (len > COT_CSV_BYTES_MAX)
        return cot_fail(fault, COT_TOO_LARGE, "the file has %zu bytes; at most %u are read", len, COT_CSV_BYTES_MAX);
    enum cot_err err = COT_MEMORY;
    struct cot_csv *c = calloc(1, sizeof *c);
    if (c) c->bytes = malloc(len + 1);
    if (!c || !c->bytes) {
        err = cot_fail(fault, COT_MEMORY, "out of memory");
        goto out;
    }
    if (len > 0) memcpy(c->bytes, bytes, len);
    c->bytes[len] = '\0';
    struct reader r = {
        .csv = c, .at = c->bytes, .end = c->bytes + len, .line_start = c->bytes, .line = 1, .fault = fault};
    if (len >= 3 && memcmp(r.at, "\xef\xbb\xbf", 3) == 0) r.line_start = r.at += 3;
    err = check_bytes(&r);
    if (err != COT_OK) goto out;
    r.separator = find_separator(r.at, r.end);
    while (r.at < r.end && err == COT_OK) err = read_record(&r);
out:
    if (err == COT_OK) *out = c;
    else cot_csv_free(c);
    return err;
}

void cot_csv_free(struct cot_csv *c)
{
    if (!c) return;
    free(c->record);
    free(c->bytes);
    free(c);
}

size_t cot_csv_count(const struct cot_csv *c)
{
    return c->count;
}

const struct cot_csv_record *cot_csv_record(const struct cot_csv *c, size_t i)
{
    return i < c->count ? &c->record[i] : NULL;
}
