/* Sentences of reports. */
#include "report_inner.h"

#include <string.h>

static void put_blanks(struct cot_buf *out, size_t n)
{
    for (size_t i = 0; i < n; i++) cot_buf_str(out, " ");
}

void cot_put_broken(struct cot_buf *out, const struct cot_buf *text, size_t first, size_t indent)
{
    size_t column = first;
    bool begun = false;
    if (text->failed || !text->s) {
        out->failed = true;
        return;
    }
    put_blanks(out, first);
    for (const char *p = text->s; *p;) {
        size_t len = strcspn(p, " "), wide = cot_text_columns(p, len);
        if (begun && column + 1 + wide > COT_PAGE_WIDTH) {
            cot_buf_str(out, "\n");
            put_blanks(out, indent);
            column = indent;
        } else if (begun) {
            cot_buf_str(out, " ");
            column++;
        }
        cot_buf_put(out, p, len);
        begun = true;
        column += wide;
        p += len + strspn(p + len, " ");
    }
    cot_buf_str(out, "\n");
}
