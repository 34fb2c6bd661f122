/* Running text in 80 columns. */
#include "table.h"

#include <string.h>

#define PAGE 80

/* Bytes of the character at p, of valid UTF-8. */
static size_t width_of(const char *p, const char *end)
{
    size_t n = 1;
    while (p + n < end && ((unsigned char)p[n] & 0xC0) == 0x80) n++;
    return n;
}

static void new_line(struct cot_buf *out, size_t *column, size_t indent)
{
    cot_buf_fmt(out, "\n%*s", (int)indent, "");
    *column = indent;
}

static void put_word(struct cot_buf *out, const char *word, size_t len, size_t *column, size_t indent)
{
    const char *p = word, *end = word + len;
    while (p < end) {
        size_t n = width_of(p, end), columns = cot_text_columns(p, n);
        if (*column + columns > PAGE) new_line(out, column, indent);
        cot_buf_put(out, p, n);
        *column += columns;
        p += n;
    }
}

void cot_put_paragraph(struct cot_buf *out, const char *s, size_t column, size_t indent)
{
    struct cot_buf safe = {0};
    bool first = true;
    cot_put_terminal(&safe, s, strlen(s));
    if (safe.failed) out->failed = true;
    for (const char *p = safe.failed ? "" : safe.s; *p;) {
        size_t len = strcspn(p, " "), columns = cot_text_columns(p, len);
        if (len > 0 && !first) {
            if (column + 1 + columns > PAGE && indent + columns <= PAGE) {
                new_line(out, &column, indent);
            } else {
                cot_buf_str(out, " ");
                column++;
            }
        }
        put_word(out, p, len, &column, indent);
        first = first && len == 0;
        p += len + (p[len] == ' ');
    }
    cot_buf_str(out, "\n");
    cot_buf_free(&safe);
}

#define VALUE_COLUMN 30

void cot_put_pair(struct cot_buf *out, const char *what, const char *value)
{
    if (!value || value[0] == '\0') return;
    size_t len = strlen(what), column = len > VALUE_COLUMN - 4 ? len + 4 : VALUE_COLUMN; /* a long label is not cut */
    cot_buf_str(out, "  ");
    cot_put_fit(out, what, len, column - 4);
    cot_buf_str(out, "  ");
    cot_put_paragraph(out, value, column, VALUE_COLUMN);
}
