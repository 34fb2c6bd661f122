/* The workers: a bounded queue of requests and the threads that answer them, so that no thread that moves bytes waits
 * for the database. */
#ifndef COTYLEDGER_HTTP_WORKERS_H
#define COTYLEDGER_HTTP_WORKERS_H

#include "call.h"

struct cot_workers;
/* `run` is called with each request, on a worker's thread. */
struct cot_workers *cot_workers_start(int threads, int most, void (*run)(struct cot_call *c));
/* Answers what is queued, then ends the threads. */
void cot_workers_stop(struct cot_workers *w);
/* False when the queue is full. */
bool cot_workers_put(struct cot_workers *w, struct cot_call *c);

#endif
