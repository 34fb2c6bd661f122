/* Codes on tags: making them, and reading what a person typed. */
#include "cotyledger/core/code.h"

#include <assert.h>
#include <string.h>

#define NUMBER_MAX 9999999u
#define NUMBER_DIGITS 7
#define NUMBER_LEAST_DIGITS 4

static const char alphabet[] = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";

static int char_value(char c)
{
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'A' && c <= 'Z') return c - 'A' + 10;
    return -1;
}

/* ISO/IEC 7064, hybrid systems: P(1) = 36, S = P + a, P = (S mod 36, 0 as 36) * 2 mod 37; P + check = 1 mod 36. */
char cot_check_mod37_36(const char *s, size_t len)
{
    int p = 36;
    for (size_t i = 0; i < len; i++) {
        int a = char_value(s[i]);
        if (a < 0) return '\0';
        int sum = (p + a) % 36;
        p = (sum == 0 ? 36 : sum) * 2 % 37;
    }
    return alphabet[(37 - p) % 36];
}

bool cot_tag_valid(const char *s, size_t len)
{
    if (len < 1 || len > COT_TAG_MAX) return false;
    for (size_t i = 0; i < len; i++)
        if (s[i] < 'A' || s[i] > 'Z') return false;
    return true;
}

bool cot_tag_nth(uint32_t i, char out[static COT_TAG_MAX + 1])
{
    uint32_t of_length = 26;
    size_t len = 1;
    while (i >= of_length) {
        i -= of_length;
        of_length *= 26;
        if (++len > COT_TAG_MAX) return false;
    }
    for (size_t k = len; k-- > 0; i /= 26) out[k] = (char)('A' + i % 26);
    out[len] = '\0';
    return true;
}

void cot_code_make(const char *tag, uint32_t number, char out[static COT_CODE_TEXT])
{
    size_t tag_len = strlen(tag), n = NUMBER_LEAST_DIGITS;
    assert(cot_tag_valid(tag, tag_len) && number >= 1 && number <= NUMBER_MAX);
    for (uint32_t limit = 10000; n < NUMBER_DIGITS && number >= limit; limit *= 10) n++;

    char plain[COT_TAG_MAX + NUMBER_DIGITS];
    memcpy(plain, tag, tag_len);
    for (size_t k = n; k-- > 0; number /= 10) plain[tag_len + k] = (char)('0' + number % 10);

    char *at = out;
    memcpy(at, tag, tag_len);
    at += tag_len;
    *at++ = '-';
    memcpy(at, plain + tag_len, n);
    at += n;
    *at++ = '-';
    *at++ = cot_check_mod37_36(plain, tag_len + n);
    *at = '\0';
}

/* What was typed, in capitals, without blanks and dashes; `apart`: the last character stood apart. */
static size_t squeeze(const char *typed, size_t len, char out[static 16], bool *apart)
{
    size_t n = 0;
    bool gap = false;
    *apart = false;
    for (size_t i = 0; i < len; i++) {
        char c = typed[i];
        if (c == ' ' || c == '\t' || c == '-') {
            gap = n > 0;
            continue;
        }
        if (c >= 'a' && c <= 'z') c = (char)(c - 'a' + 'A');
        if (char_value(c) < 0 || n == 15) return 0;
        out[n++] = c;
        *apart = gap;
        gap = false;
    }
    return n;
}

enum cot_code_state cot_code_read(const char *typed, size_t len, char out[static COT_CODE_TEXT])
{
    char s[16];
    bool apart;
    size_t n = squeeze(typed, len, s, &apart);
    size_t tag_len = 0;
    while (tag_len < n && s[tag_len] >= 'A' && s[tag_len] <= 'Z') tag_len++;
    if (tag_len < 1 || tag_len > COT_TAG_MAX || n < tag_len + 2) return COT_CODE_SHAPE;

    char check = s[n - 1];
    size_t count = n - 1 - tag_len;
    /* B-0417 without its check character must not pass for B-0041-7: a figure that checks and does not stand apart
     * needs all the digits before it. */
    if (check <= '9' && !apart && count < NUMBER_LEAST_DIGITS) return COT_CODE_SHAPE;
    uint32_t number = 0;
    for (size_t i = 0; i < count; i++) {
        if (s[tag_len + i] > '9' || number > NUMBER_MAX / 10) return COT_CODE_SHAPE;
        number = number * 10 + (uint32_t)(s[tag_len + i] - '0');
    }
    if (number < 1 || number > NUMBER_MAX) return COT_CODE_SHAPE;

    char tag[COT_TAG_MAX + 1] = "", made[COT_CODE_TEXT];
    memcpy(tag, s, tag_len);
    cot_code_make(tag, number, made);
    if (made[strlen(made) - 1] != check) return COT_CODE_CHECK;
    memcpy(out, made, strlen(made) + 1);
    return COT_CODE_GOOD;
}
