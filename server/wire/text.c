/* UTF-8, and the escapes of each medium. */
#include "inner.h"

#include <string.h>

uint32_t cot_utf8_next(const char **p, const char *end)
{
    static const uint32_t least[] = {0, 0x80, 0x800, 0x10000};
    const unsigned char *s = (const unsigned char *)*p;
    size_t left = (size_t)(end - *p);
    if (left == 0) return COT_UTF8_BAD;
    unsigned more = s[0] < 0x80 ? 0 : s[0] >> 5 == 6 ? 1 : s[0] >> 4 == 14 ? 2 : s[0] >> 3 == 30 ? 3 : 4;
    if (more == 4 || left <= more) return COT_UTF8_BAD;
    uint32_t c = more == 0 ? s[0] : s[0] & (0x3Fu >> more);
    for (unsigned i = 1; i <= more; i++) {
        if (s[i] >> 6 != 2) return COT_UTF8_BAD;
        c = c << 6 | (s[i] & 0x3Fu);
    }
    if (c < least[more] || c > 0x10FFFF || (c >= 0xD800 && c <= 0xDFFF)) return COT_UTF8_BAD;
    *p += more + 1;
    return c;
}

bool cot_utf8_valid(const char *s, size_t len)
{
    const char *end = s + len;
    while (s < end)
        if (cot_utf8_next(&s, end) == COT_UTF8_BAD) return false;
    return true;
}

/* Controls, bidi controls, characters without width and line separators: what could move the cursor, turn a line round
 * or make two names look alike. */
static bool unsafe_on_terminal(uint32_t c)
{
    static const uint32_t range[][2] = {
        {0x0000, 0x001F}, {0x007F, 0x009F}, {0x00AD, 0x00AD}, {0x061C, 0x061C}, {0x180E, 0x180E},   {0x200B, 0x200F},
        {0x2028, 0x202E}, {0x2060, 0x206F}, {0xFEFF, 0xFEFF}, {0xFFF9, 0xFFFB}, {0xE0000, 0xE007F},
    };
    if (c >= 0x20 && c < 0x7F) return false;
    for (size_t i = 0; i < sizeof range / sizeof range[0]; i++)
        if (c >= range[i][0] && c <= range[i][1]) return true;
    return false;
}

void cot_put_terminal(struct cot_buf *b, const char *s, size_t len)
{
    const char *end = s + len;
    cot_buf_put(b, "", 0);
    while (s < end) {
        const char *start = s;
        uint32_t c = cot_utf8_next(&s, end);
        if (c == COT_UTF8_BAD) {
            cot_buf_fmt(b, "\\x{%02X}", (unsigned)(unsigned char)*s++);
        } else if (unsafe_on_terminal(c)) {
            cot_buf_fmt(b, "\\u{%04X}", (unsigned)c);
        } else {
            cot_buf_put(b, start, (size_t)(s - start));
        }
    }
}

void cot_put_csv(struct cot_buf *b, const char *s, size_t len)
{
    bool formula = len > 0 && memchr("=+-@\t\r", s[0], 6) != NULL;
    bool quote = len > 0 && (s[0] == ' ' || s[len - 1] == ' ');
    for (size_t i = 0; i < len && !quote; i++) quote = memchr("\",;\r\n\t", s[i], 6) != NULL;
    cot_buf_str(b, quote ? "\"" : "");
    if (formula) cot_buf_str(b, "'");
    for (size_t i = 0; i < len; i++) {
        if (s[i] == '"') cot_buf_str(b, "\"");
        cot_buf_put(b, s + i, 1);
    }
    cot_buf_str(b, quote ? "\"" : "");
}

void cot_put_json(struct cot_buf *b, const char *s, size_t len)
{
    const char *end = s + len;
    cot_buf_str(b, "\"");
    while (s < end) {
        const char *plain = s;
        while (s < end && *s >= 0x20 && *s < 0x7F && *s != '"' && *s != '\\') s++;
        cot_buf_put(b, plain, (size_t)(s - plain));
        if (s == end) break;
        const char *start = s;
        uint32_t c = cot_utf8_next(&s, end);
        if (c == COT_UTF8_BAD) {
            cot_buf_str(b, "\\ufffd");
            s++;
        } else if (c == '"' || c == '\\') {
            cot_buf_fmt(b, "\\%c", (int)c);
        } else if (c == '\n') {
            cot_buf_str(b, "\\n");
        } else if (c < 0x20 || (c >= 0x7F && c < 0xA0)) {
            cot_buf_fmt(b, "\\u%04x", (unsigned)c);
        } else {
            cot_buf_put(b, start, (size_t)(s - start));
        }
    }
    cot_buf_str(b, "\"");
}
