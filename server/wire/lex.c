/* The lexical rules of the entry grammar, over the raw bytes. What passes here is left to the JSON parser, which knows
 * the rest of RFC 8259 and refuses duplicate keys. */
#include "inner.h"

#include <string.h>

struct lexer {
    const char *start, *p, *end;
    struct cot_fault *fault;
};

static enum cot_err refuse(const struct lexer *l, const char *what)
{
    return cot_fail(l->fault, COT_MALFORMED, "entry, byte %zu: %s", (size_t)(l->p - l->start), what);
}

static bool control(uint32_t c)
{
    return c < 0x20 || (c >= 0x7F && c < 0xA0);
}

/* Four hexadecimal digits at `s`; false when they are not. */
static bool hex4(const char *s, const char *end, uint32_t *out)
{
    if (end - s < 4) return false;
    uint32_t n = 0;
    for (int i = 0; i < 4; i++) {
        char c = s[i];
        if (c >= '0' && c <= '9') n = n << 4 | (uint32_t)(c - '0');
        else if (c >= 'a' && c <= 'f') n = n << 4 | (uint32_t)(c - 'a' + 10);
        else if (c >= 'A' && c <= 'F') n = n << 4 | (uint32_t)(c - 'A' + 10);
        else return false;
    }
    *out = n;
    return true;
}

/* At the 'u' of an escape. */
static enum cot_err unicode_escape(struct lexer *l)
{
    uint32_t c, low;
    if (!hex4(l->p + 1, l->end, &c)) return refuse(l, "a \\u escape needs four hexadecimal digits");
    if (control(c)) return refuse(l, "an escaped control character");
    if (c >= 0xDC00 && c <= 0xDFFF) return refuse(l, "an unpaired surrogate");
    if (c < 0xD800 || c > 0xDFFF) {
        l->p += 5;
        return COT_OK;
    }
    const char *second = l->p + 5;
    if (l->end - second < 6 || second[0] != '\\' || second[1] != 'u' || !hex4(second + 2, l->end, &low) ||
        low < 0xDC00 || low > 0xDFFF)
        return refuse(l, "an unpaired surrogate");
    l->p += 11;
    return COT_OK;
}

/* After a backslash. */
static enum cot_err escape(struct lexer *l)
{
    char c = l->p < l->end ? *l->p : '\0';
    if (c == 'u') return unicode_escape(l);
    if (c == '"' || c == '\\' || c == '/') {
        l->p++;
        return COT_OK;
    }
    if (c != '\0' && strchr("bfnrt", c)) return refuse(l, "an escaped control character");
    return refuse(l, "an escape that JSON does not know");
}

/* After the opening quote, to after the closing one. */
static enum cot_err string(struct lexer *l)
{
    enum cot_err err = COT_OK;
    while (l->p < l->end && *l->p != '"') {
        if (*l->p == '\\') {
            l->p++;
            err = escape(l);
            if (err) return err;
            continue;
        }
        const char *at = l->p;
        uint32_t c = cot_utf8_next(&at, l->end);
        if (c == COT_UTF8_BAD) return refuse(l, "not valid UTF-8");
        if (control(c)) return refuse(l, "a control character");
        l->p = at;
    }
    if (l->p == l->end) return refuse(l, "a text that does not end");
    l->p++;
    return COT_OK;
}

static enum cot_err number(struct lexer *l)
{
    bool minus = *l->p == '-';
    if (minus) l->p++;
    const char *first = l->p;
    int64_t n = 0;
    for (; l->p < l->end && *l->p >= '0' && *l->p <= '9'; l->p++) {
        n = n * 10 + (*l->p - '0');
        if (n > COT_INT_MAX) return refuse(l, "a number beyond 2^53-1");
    }
    if (l->p == first) return refuse(l, "a minus sign without a number");
    if (*first == '0' && l->p - first > 1) return refuse(l, "a number with leading zeros");
    if (minus && n == 0) return refuse(l, "-0");
    if (l->p < l->end && (*l->p == '.' || *l->p == 'e' || *l->p == 'E'))
        return refuse(l, "a number that is not a plain integer");
    return COT_OK;
}

static bool word(struct lexer *l, const char *w)
{
    size_t n = strlen(w);
    if ((size_t)(l->end - l->p) < n || memcmp(l->p, w, n) != 0) return false;
    l->p += n;
    return true;
}

enum cot_err cot_lex_check(const char *s, size_t len, struct cot_fault *fault)
{
    struct lexer l = {s, s, s + len, fault};
    enum cot_err err = COT_OK;
    int depth = 0;
    while (!err && l.p < l.end) {
        char c = *l.p;
        if (c == '"') {
            l.p++;
            err = string(&l);
        } else if (c == '{' || c == '[') {
            if (++depth > COT_ENTRY_DEPTH) return refuse(&l, "nested more than 8 deep");
            l.p++;
        } else if (c == '}' || c == ']') {
            depth--;
            l.p++;
        } else if (c == ',' || c == ':') {
            l.p++;
        } else if (c == '-' || (c >= '0' && c <= '9')) {
            err = number(&l);
        } else if (c == ' ' || c == '\t' || c == '\n' || c == '\r') {
            return refuse(&l, "a blank or line break outside a text");
        } else if (!word(&l, "true") && !word(&l, "false") && !word(&l, "null")) {
            return refuse(&l, "a byte that is not part of JSON");
        }
    }
    return err;
}
