/* The growing buffer, base64url, and the strict reader of fixed forms. */
#include "inner.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void cot_buf_free(struct cot_buf *b)
{
    free(b->s);
    memset(b, 0, sizeof *b);
}

void cot_buf_clear(struct cot_buf *b)
{
    b->len = 0;
    b->failed = false;
    if (b->s) b->s[0] = '\0';
}

char *cot_buf_room(struct cot_buf *b, size_t len)
{
    if (b->failed) return NULL;
    if (len > SIZE_MAX / 4 - b->len) goto fail;
    size_t need = b->len + len + 1;
    if (need > b->cap) {
        size_t cap = b->cap ? b->cap : 64;
        while (cap < need) cap *= 2;
        char *s = realloc(b->s, cap);
        if (!s) goto fail;
        b->s = s;
        b->cap = cap;
    }
    return b->s + b->len;
fail:
    b->failed = true;
    return NULL;
}

void cot_buf_put(struct cot_buf *b, const void *bytes, size_t len)
{
    char *to = cot_buf_room(b, len);
    if (!to) return;
    if (len) memcpy(to, bytes, len);
    b->len += len;
    b->s[b->len] = '\0';
}

void cot_buf_str(struct cot_buf *b, const char *s)
{
    cot_buf_put(b, s, strlen(s));
}

void cot_buf_fmt(struct cot_buf *b, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    int n = vsnprintf(NULL, 0, fmt, args);
    va_end(args);
    if (n < 0) {
        b->failed = true;
        return;
    }
    char *to = cot_buf_room(b, (size_t)n);
    if (!to) return;
    va_start(args, fmt);
    vsnprintf(to, (size_t)n + 1, fmt, args);
    va_end(args);
    b->len += (size_t)n;
}

void cot_b64_text(const void *bytes, size_t len, char *out)
{
    sodium_bin2base64(out, COT_B64_LEN(len) + 1, bytes, len, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
}

bool cot_b64_parse(const char *s, size_t len, void *out, size_t out_len)
{
    size_t got = 0;
    if (len != COT_B64_LEN(out_len)) return false;
    return sodium_base642bin(out, out_len, s, len, NULL, &got, NULL, sodium_base64_VARIANT_URLSAFE_NO_PADDING) == 0 &&
           got == out_len;
}

static void put_base64(struct cot_buf *b, const void *bytes, size_t len, int variant)
{
    size_t n = sodium_base64_ENCODED_LEN(len, variant) - 1;
    char *to = cot_buf_room(b, n);
    if (!to) return;
    sodium_bin2base64(to, n + 1, bytes, len, variant);
    b->len += n;
}

void cot_put_b64(struct cot_buf *b, const void *bytes, size_t len)
{
    put_base64(b, bytes, len, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
}

void cot_put_base64(struct cot_buf *b, const void *bytes, size_t len)
{
    put_base64(b, bytes, len, sodium_base64_VARIANT_ORIGINAL);
}

void cot_id_text(const struct cot_id *id, char out[static COT_ID_TEXT])
{
    cot_b64_text(id->b, sizeof id->b, out);
}

bool cot_id_parse(const char *s, size_t len, struct cot_id *id)
{
    return cot_b64_parse(s, len, id->b, sizeof id->b);
}

void cot_house_text(const struct cot_house_id *h, char out[static COT_HOUSE_TEXT])
{
    cot_b64_text(h->b, sizeof h->b, out);
}

bool cot_house_parse(const char *s, size_t len, struct cot_house_id *h)
{
    return cot_b64_parse(s, len, h->b, sizeof h->b);
}

void cot_scan_lit(struct cot_scan *s, const char *text)
{
    size_t n = strlen(text);
    if (s->bad) return;
    if ((size_t)(s->end - s->p) < n || memcmp(s->p, text, n) != 0) {
        s->bad = true;
        return;
    }
    s->p += n;
}

int64_t cot_scan_int(struct cot_scan *s, int64_t min)
{
    if (s->bad) return 0;
    const char *start = s->p;
    int64_t n = 0;
    for (; s->p < s->end && *s->p >= '0' && *s->p <= '9' && n <= COT_INT_MAX; s->p++) n = n * 10 + (*s->p - '0');
    bool zeros = s->p - start > 1 && *start == '0';
    if (s->p == start || zeros || n < min || n > COT_INT_MAX) s->bad = true;
    return s->bad ? 0 : n;
}

void cot_scan_b64(struct cot_scan *s, void *out, size_t len)
{
    if (s->bad) return;
    size_t n = COT_B64_LEN(len);
    if ((size_t)(s->end - s->p) < n || !cot_b64_parse(s->p, n, out, len)) {
        s->bad = true;
        return;
    }
    s->p += n;
}

void cot_scan_tag(struct cot_scan *s, char out[static COT_TAG_MAX + 1])
{
    out[0] = '\0';
    if (s->bad) return;
    size_t n = 0;
    while (s->p + n < s->end && n <= COT_TAG_MAX && s->p[n] >= 'A' && s->p[n] <= 'Z') n++;
    if (n == 0 || n > COT_TAG_MAX) {
        s->bad = true;
        return;
    }
    memcpy(out, s->p, n);
    out[n] = '\0';
    s->p += n;
}

bool cot_scan_done(const struct cot_scan *s)
{
    return !s->bad && s->p == s->end;
}
