#include "table.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#define PAGE 80
#define GAP 2
#define NARROWEST 8

void cot_table_init(struct cot_table *t, const struct cot_col *col, size_t cols)
{
    *t = (struct cot_table){.col = col, .cols = cols};
}

/* Takes the string over. */
static void add(struct cot_table *t, char *s)
{
    if (t->count == t->cap && !t->failed) {
        size_t cap = t->cap ? t->cap * 2 : 64;
        char **grown = realloc(t->cell, cap * sizeof *grown);
        if (grown) {
            t->cell = grown;
            t->cap = cap;
        }
        t->failed = !grown;
    }
    if (t->failed) free(s);
    else t->cell[t->count++] = s;
}

void cot_table_text(struct cot_table *t, const char *s)
{
    char *copy = s ? strdup(s) : NULL;
    if (s && !copy) t->failed = true;
    add(t, copy);
}

void cot_table_fmt(struct cot_table *t, const char *fmt, ...)
{
    va_list ap;
    char *s = NULL;
    va_start(ap, fmt);
    if (vasprintf(&s, fmt, ap) < 0) {
        s = NULL;
        t->failed = true;
    }
    va_end(ap);
    add(t, s);
}

void cot_table_int(struct cot_table *t, int64_t i)
{
    cot_table_fmt(t, "%" PRId64, i);
}

void cot_table_day(struct cot_table *t, int32_t day)
{
    char text[COT_DAY_TEXT];
    if (day != COT_DAY_NONE) cot_day_text(day, text);
    cot_table_text(t, day == COT_DAY_NONE ? NULL : text);
}

void cot_table_yes(struct cot_table *t, bool yes)
{
    cot_table_text(t, yes ? "yes" : "no");
}

void cot_table_free(struct cot_table *t)
{
    for (size_t i = 0; i < t->count; i++) free(t->cell[i]);
    free(t->cell);
    *t = (struct cot_table){0};
}

size_t cot_table_rows(const struct cot_table *t)
{
    return t->cols > 0 ? t->count / t->cols : 0;
}

static const char *cell(const struct cot_table *t, size_t row, size_t col)
{
    return t->cell[row * t->cols + col];
}

/* --- For eyes ------------------------------------------------------------------------------------------------------
 */

/* Columns that the text takes once escaped. */
static size_t wide(const char *s, struct cot_buf *out)
{
    struct cot_buf safe = {0};
    cot_put_terminal(&safe, s, strlen(s));
    size_t n = safe.failed || !safe.s ? 0 : cot_text_columns(safe.s, safe.len);
    if (safe.failed) out->failed = true;
    cot_buf_free(&safe);
    return n;
}

/* Codes, dates and other single words are worth nothing when cut. */
static bool single_words(const struct cot_table *t, size_t col, size_t width)
{
    bool single = width <= 16;
    for (size_t r = 0; r < cot_table_rows(t) && single; r++)
        if (cell(t, r, col) && strchr(cell(t, r, col), ' ')) single = false;
    return single;
}

/* Takes columns off the widest text until the page holds them all; single words last. */
static void shrink(const struct cot_table *t, size_t *width, size_t total)
{
    for (int all = 0; all < 2; all++) {
        while (total > PAGE) {
            size_t widest = t->cols;
            for (size_t c = 0; c < t->cols; c++) {
                bool may = t->col[c].heading && !t->col[c].number && width[c] > NARROWEST &&
                           (all || !single_words(t, c, width[c]));
                if (may && (widest == t->cols || width[c] > width[widest])) widest = c;
            }
            if (widest == t->cols) break;
            width[widest]--;
            total--;
        }
    }
}

static void put_cell(const struct cot_col *col, const char *s, size_t width, struct cot_buf *out)
{
    size_t n = col->number ? wide(s, out) : 0;
    for (; col->number && n < width; n++) cot_buf_put(out, " ", 1);
    cot_put_fit(out, s, strlen(s), col->number ? wide(s, out) : width);
    cot_buf_str(out, "  ");
}

static void put_text(const struct cot_table *t, struct cot_buf *out)
{
    size_t *width = calloc(t->cols + 1, sizeof *width), total = 0, rows = cot_table_rows(t);
    if (!width) {
        out->failed = true;
        return;
    }
    for (size_t c = 0; c < t->cols; c++) {
        if (!t->col[c].heading) continue;
        width[c] = wide(t->col[c].heading, out);
        for (size_t r = 0; r < rows; r++) {
            size_t n = cell(t, r, c) ? wide(cell(t, r, c), out) : 0;
            if (n > width[c]) width[c] = n;
        }
        total += width[c] + (total > 0 ? GAP : 0);
    }
    shrink(t, width, total);
    for (size_t r = 0; r <= rows; r++) {
        size_t from = out->len;
        for (size_t c = 0; c < t->cols; c++) {
            const char *s = r == 0 ? t->col[c].heading : cell(t, r - 1, c);
            if (t->col[c].heading) put_cell(&t->col[c], s ? s : "", width[c], out);
        }
        cot_put_line_end(out, from, PAGE);
    }
    free(width);
}

/* --- For programs --------------------------------------------------------------------------------------------------
 */

static void put_csv(const struct cot_table *t, struct cot_buf *out)
{
    for (size_t c = 0; c < t->cols; c++) cot_buf_fmt(out, "%s%s", c > 0 ? "," : "", t->col[c].key);
    cot_buf_str(out, "\r\n");
    for (size_t r = 0; r < cot_table_rows(t); r++) {
        for (size_t c = 0; c < t->cols; c++) {
            const char *s = cell(t, r, c);
            if (c > 0) cot_buf_str(out, ",");
            if (s && t->col[c].number) cot_buf_str(out, s);
            else if (s) cot_put_csv(out, s, strlen(s));
        }
        cot_buf_str(out, "\r\n");
    }
}

static void put_member(const struct cot_col *col, const char *s, struct cot_buf *out)
{
    cot_buf_fmt(out, "\"%s\":", col->key);
    if (!s) cot_buf_str(out, "null");
    else if (col->number) cot_buf_str(out, s);
    else if (col->yes_no) cot_buf_str(out, strcmp(s, "yes") == 0 ? "true" : "false");
    else cot_put_json(out, s, strlen(s));
}

static void put_json(const struct cot_table *t, struct cot_buf *out)
{
    cot_buf_str(out, "[");
    for (size_t r = 0; r < cot_table_rows(t); r++) {
        cot_buf_str(out, r > 0 ? ",\n{" : "\n{");
        for (size_t c = 0; c < t->cols; c++) {
            if (c > 0) cot_buf_str(out, ",");
            put_member(&t->col[c], cell(t, r, c), out);
        }
        cot_buf_str(out, "}");
    }
    cot_buf_str(out, "]\n");
}

enum cot_err cot_table_put(const struct cot_table *t, enum cot_form form, const char *none, struct cot_buf *out)
{
    if (t->failed) return COT_MEMORY;
    if (form == COT_FORM_CSV) put_csv(t, out);
    else if (form == COT_FORM_JSON) put_json(t, out);
    else if (cot_table_rows(t) == 0) cot_buf_fmt(out, "%s\n", none);
    else put_text(t, out);
    return out->failed ? COT_MEMORY : COT_OK;
}

enum cot_err cot_table_print(struct cot_cli *cli, const struct cot_table *t, enum cot_form form, const char *none)
{
    struct cot_buf out = {0};
    enum cot_err err = cot_table_put(t, form, none, &out);
    if (err != COT_OK) (void)cot_fail(&cli->fault, err, "out of memory");
    if (err == COT_OK) err = cot_print(cli, &out);
    cot_buf_free(&out);
    return err;
}

enum cot_err cot_print(struct cot_cli *cli, const struct cot_buf *b)
{
    if (b->failed) return cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    if (b->len > 0 && fwrite(b->s, 1, b->len, stdout) != b->len)
        return cot_fail(&cli->fault, COT_IO, "unable to write the answer: standard output is closed or full");
    return COT_OK;
}

enum cot_err cot_form_asked(struct cot_cli *cli, const char *csv, enum cot_form *form)
{
    if (csv && cli->json) return cot_fail(&cli->fault, COT_USAGE, "--csv and --json: one of them");
    *form = csv ? COT_FORM_CSV : cli->json ? COT_FORM_JSON : COT_FORM_TEXT;
    return COT_OK;
}
