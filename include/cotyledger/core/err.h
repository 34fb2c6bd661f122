/* Errors: one enum for the whole program, one table from it to HTTP status and exit code.
 *
 * A fallible function returns an enum cot_err and, where it can say more, fills a struct cot_fault that the
 * caller owns. Nothing below main() exits the process.
 */
#ifndef COTYLEDGER_CORE_ERR_H
#define COTYLEDGER_CORE_ERR_H

#include <stdarg.h>
#include <stddef.h>

#define COT_MUSTCHECK __attribute__((warn_unused_result))
#define COT_PRINTF(f, a) __attribute__((format(printf, f, a)))

enum cot_err {
    COT_OK = 0,
    COT_MALFORMED,   /* bytes outside a grammar: entry, page, CSV, request */
    COT_INVALID,     /* well-formed, but a value makes no sense */
    COT_NOT_FOUND,   /* a thing, route or file that is not there */
    COT_AMBIGUOUS,   /* a name that fits several things */
    COT_NOT_ALLOWED, /* this part or farm may not do that */
    COT_UNAUTHENTIC, /* signature, seal, chain, head or invitation does not verify */
    COT_CLOCK,       /* request signed at a time too far from the server's */
    COT_CLOSED,      /* the device has been closed */
    COT_FORK,        /* the journal went on twice from one number */
    COT_GAP,         /* the page starts after the device's head: entries before it are missing */
    COT_CONFLICT,    /* somebody else was first: read again and retry */
    COT_TOO_LARGE,   /* over a documented limit */
    COT_BUSY,        /* overloaded or starting: try again */
    COT_TIMEOUT,     /* took longer than a request may */
    COT_NETWORK,     /* the other side cannot be reached */
    COT_STORE,       /* database or journal failed */
    COT_NEWER,       /* data written by a newer version */
    COT_IO,          /* file or terminal failed */
    COT_MEMORY,
    COT_USAGE,    /* command line */
    COT_INTERNAL, /* our own bug */
    COT_ERR_COUNT
};

#define COT_FAULT_MAX 1024

/* What went wrong, for a person. `msg` says what and where; `hint` what to do; both may be empty. */
struct cot_fault {
    enum cot_err code;
    char msg[COT_FAULT_MAX];
    char hint[COT_FAULT_MAX];
};

/* Fills `f` (may be NULL) and returns `code`, so that a caller can `return cot_fail(f, COT_INVALID, ...)`. */
enum cot_err cot_fail(struct cot_fault *f, enum cot_err code, const char *fmt, ...) COT_PRINTF(3, 4);
/* Adds or replaces the hint; returns f->code. `f` may be NULL, then COT_INTERNAL is returned. */
enum cot_err cot_hint(struct cot_fault *f, const char *fmt, ...) COT_PRINTF(2, 3);
/* Puts "context: " in front of the message; returns f->code. */
enum cot_err cot_within(struct cot_fault *f, const char *fmt, ...) COT_PRINTF(2, 3);

/* The one table. `name` is the last part of the problem type, e.g. "fork" in urn:cotyledger:problem:fork. */
struct cot_err_row {
    const char *name;
    int http_status;
    int exit_code;
    const char *title;
};
const struct cot_err_row *cot_err_row(enum cot_err code);
/* The code whose name is `name`, or COT_INTERNAL. */
enum cot_err cot_err_by_name(const char *name);

#endif
