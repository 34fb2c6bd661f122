/* The HTTP side of cotyld: routes, authentication, limits. Nobody outside this room knows libmicrohttpd. */
#ifndef COTYLEDGER_HTTP_HTTP_H
#define COTYLEDGER_HTTP_HTTP_H

#include "books.h"

struct cot_http_options {
    const char *listen;             /* "127.0.0.1:7443", "[::1]:0" */
    const char *tls_cert, *tls_key; /* PEM text, not file names; NULL: plain HTTP */
    int threads;                    /* that move bytes */
    int workers;                    /* that answer */
    int queue;                      /* requests waiting for a worker */
    int connections, per_ip;        /* per_ip 0: no limit (behind a proxy everybody has its address) */
    int seconds;                    /* a request may take */
    size_t body;                    /* bytes of a page */
};
struct cot_http;
/* Listens and answers until stopped; `port` receives the port it listens on. */
COT_MUSTCHECK enum cot_err cot_http_start(const struct cot_http_options *o, struct cot_books *books,
                                          struct cot_http **out, int *port, struct cot_fault *fault);
/* Stops accepting, lets running requests finish (no longer than a request may take), then ends. */
void cot_http_stop(struct cot_http *h);

#endif
