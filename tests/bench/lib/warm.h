/* HTTP on a warm connection, as cheap as a client can be: a request is bytes made beforehand, the answer is read and
 * counted. No assertion in here, so that threads may use it. */
#ifndef COTYLEDGER_BENCH_WARM_H
#define COTYLEDGER_BENCH_WARM_H

#include "harness.h"

struct bench_warm {
    int fd;
    char *in;
    size_t cap;
};
bool bench_warm_open(struct bench_warm *w, int port);
void bench_warm_close(struct bench_warm *w);
/* Sends the request and reads the whole answer. Its status; -1 when there was none. *body (may be NULL) and *len are
 * good until the next call. */
int bench_warm_ask(struct bench_warm *w, const struct cot_buf *request, const char **body, size_t *len);

/* The bytes of a signed request; good for as long as the server takes its time. */
void bench_signed(const struct cot_device *d, const char *method, const char *path, const char *query, const void *body,
                  size_t len, struct cot_buf *out);

#endif
