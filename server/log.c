#include "log.h"

#include <stdio.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static _Atomic int detail = COT_LOG_INFO;

void cot_log_level(enum cot_level most)
{
    atomic_store(&detail, (int)most);
}

/* One write a line, so that lines of several threads do not mix. */
void cot_log(enum cot_level level, const char *event, const char *fmt, ...)
{
    static const char *const words[] = {"error", "warn", "info"};
    if ((int)level > atomic_load(&detail)) return;
    char line[2048];
    struct timespec t;
    struct tm tm;
    clock_gettime(CLOCK_REALTIME, &t);
    gmtime_r(&t.tv_sec, &tm);
    size_t n = strftime(line, sizeof line, "%Y-%m-%dT%H:%M:%S", &tm);
    n += (size_t)snprintf(line + n, sizeof line - n, ".%03ldZ %s %s ", t.tv_nsec / 1000000, words[level], event);
    va_list args;
    va_start(args, fmt);
    int m = vsnprintf(line + n, sizeof line - n - 1, fmt, args);
    va_end(args);
    if (m > 0) n += (size_t)m < sizeof line - n - 1 ? (size_t)m : sizeof line - n - 2;
    line[n++] = '\n';
    if (write(STDERR_FILENO, line, n) < 0) return; /* nowhere left to say it */
}

const char *cot_log_value(const char *s, char *out, size_t len)
{
    bool plain = *s != '\0';
    for (const char *p = s; *p; p++)
        if (*p <= ' ' || *p >= 127 || *p == '"' || *p == '=' || *p == '\\') plain = false;
    size_t n = 0;
    if (!plain) out[n++] = '"';
    for (; *s && n + 6 < len; s++) {
        unsigned char c = (unsigned char)*s;
        if (c < ' ' || c >= 127 || c == '"' || c == '\\') n += (size_t)snprintf(out + n, len - n, "\\x%02x", c);
        else out[n++] = (char)c;
    }
    if (!plain) out[n++] = '"';
    out[n] = '\0';
    return out;
}

void cot_log_fault(enum cot_level level, const char *event, const struct cot_fault *fault)
{
    char msg[700], hint[400];
    cot_log(level, event, "code=%s msg=%s%s%s", cot_err_row(fault->code)->name,
            cot_log_value(fault->msg, msg, sizeof msg), *fault->hint ? " hint=" : "",
            *fault->hint ? cot_log_value(fault->hint, hint, sizeof hint) : "");
}
