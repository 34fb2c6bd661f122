/* Processor time that the server and its database have used so far: it says more than seconds on a machine with other
 * work. */
#ifndef COTYLEDGER_BENCH_CPU_H
#define COTYLEDGER_BENCH_CPU_H

#include "harness.h"

struct bench_cpu {
    double server, database, own;
}; /* seconds: cotyld, all of PostgreSQL, this program */
struct bench_cpu bench_cpu(const struct cot_server *s);

#endif
