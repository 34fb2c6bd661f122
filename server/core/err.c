/* Errors: the one table from a code to its name, HTTP status and exit code, and the words of a fault. */
#include "cotyledger/core/err.h"

#include <stdio.h>
#include <string.h>

/* Exit codes, the same for every command:
 *   0 done            4 not found, or a name that fits several   8 the other side is away or busy: try again
 *   2 command line    5 not allowed                              9 database, journal or file failed
 *   3 input is wrong  6 signature, seal or clock                10 data of a newer version
 *                     7 somebody else was first                 11 too large    12 out of memory, or our own bug */
static const struct cot_err_row err_table[COT_ERR_COUNT] = {
    [COT_OK] = {"ok", 200, 0, "done"},
    [COT_MALFORMED] = {"malformed", 400, 3, "cannot be read"},
    [COT_INVALID] = {"invalid", 422, 3, "makes no sense"},
    [COT_NOT_FOUND] = {"not_found", 404, 4, "not found"},
    [COT_AMBIGUOUS] = {"ambiguous", 409, 4, "fits several"},
    [COT_NOT_ALLOWED] = {"not_allowed", 403, 5, "not allowed"},
    [COT_UNAUTHENTIC] = {"unauthentic", 401, 6, "does not verify"},
    [COT_CLOCK] = {"clock", 401, 6, "clock too far off"},
    [COT_CLOSED] = {"closed", 403, 5, "device closed"},
    [COT_FORK] = {"fork", 409, 7, "journal went on twice"},
    [COT_GAP] = {"gap", 409, 7, "entries are missing before these"},
    [COT_CONFLICT] = {"conflict", 409, 7, "somebody else was first"},
    [COT_TOO_LARGE] = {"too_large", 413, 11, "too large"},
    [COT_BUSY] = {"busy", 503, 8, "busy"},
    [COT_TIMEOUT] = {"timeout", 503, 8, "took too long"},
    [COT_NETWORK] = {"network", 500, 8, "cannot be reached"},
    [COT_STORE] = {"store", 500, 9, "database or journal failed"},
    [COT_NEWER] = {"newer", 500, 10, "made by a newer version"},
    [COT_IO] = {"io", 500, 9, "file or terminal failed"},
    [COT_MEMORY] = {"memory", 500, 12, "out of memory"},
    [COT_USAGE] = {"usage", 500, 2, "command line"},
    [COT_INTERNAL] = {"internal", 500, 12, "a fault of the program itself"},
};

const struct cot_err_row *cot_err_row(enum cot_err code)
{
    return (unsigned)code < COT_ERR_COUNT ? &err_table[code] : &err_table[COT_INTERNAL];
}

enum cot_err cot_err_by_name(const char *name)
{
    for (int i = 0; i < COT_ERR_COUNT; i++)
        if (strcmp(err_table[i].name, name) == 0) return (enum cot_err)i;
    return COT_INTERNAL;
}

/* A text cut to its place must not end inside a UTF-8 character. */
static void trim_partial(char *s, size_t cap)
{
    size_t n = strlen(s);
    if (n + 1 < cap) return;
    size_t start = n;
    while (start > 0 && ((unsigned char)s[start - 1] & 0xC0) == 0x80) start--;
    if (start == 0) return;
    unsigned char lead = (unsigned char)s[start - 1];
    size_t want = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC0 ? 2 : 1;
    if (n - (start - 1) < want) s[start - 1] = '\0';
}

enum cot_err cot_fail(struct cot_fault *f, enum cot_err code, const char *fmt, ...)
{
    if (!f) return code;
    char text[COT_FAULT_MAX]; /* an argument may be the old message */
    va_list args;
    va_start(args, fmt);
    if (vsnprintf(text, sizeof text, fmt, args) < 0) text[0] = '\0';
    va_end(args);
    trim_partial(text, sizeof text);
    f->code = code;
    f->hint[0] = '\0';
    memcpy(f->msg, text, strlen(text) + 1);
    return code;
}

enum cot_err cot_hint(struct cot_fault *f, const char *fmt, ...)
{
    if (!f) return COT_INTERNAL;
    char text[COT_FAULT_MAX];
    va_list args;
    va_start(args, fmt);
    if (vsnprintf(text, sizeof text, fmt, args) < 0) text[0] = '\0';
    va_end(args);
    trim_partial(text, sizeof text);
    memcpy(f->hint, text, strlen(text) + 1);
    return f->code;
}

enum cot_err cot_within(struct cot_fault *f, const char *fmt, ...)
{
    if (!f) return COT_INTERNAL;
    char before[COT_FAULT_MAX];
    va_list args;
    va_start(args, fmt);
    int n = vsnprintf(before, sizeof before - 2, fmt, args);
    va_end(args);
    if (n < 0) return f->code;
    size_t len = strlen(before);
    memcpy(before + len, ": ", 3);
    len += 2;
    size_t room = sizeof f->msg - 1 - len, keep = strlen(f->msg);
    if (keep > room) keep = room;
    memmove(f->msg + len, f->msg, keep);
    memcpy(f->msg, before, len);
    f->msg[len + keep] = '\0';
    trim_partial(f->msg, sizeof f->msg);
    return f->code;
}
