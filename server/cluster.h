/* The PostgreSQL of our own: made in DIR/pg, started and stopped with this program, reached through a socket in a
 * directory that nobody else may enter. One program at a time holds DIR/lock and with it the cluster; others use the
 * cluster while it runs. */
#ifndef COTYLD_CLUSTER_H
#define COTYLD_CLUSTER_H

#include "cotyledger/core/err.h"

#include <stdbool.h>

struct cot_cluster;
/* Starts the cluster (makes it the first time; first ends what an earlier run left behind). When another cotyld holds
 * it: `join` true: uses it and stops nothing later; else COT_BUSY. Call from the main thread, which must outlive the
 * cluster. */
COT_MUSTCHECK enum cot_err cot_cluster_start(const char *dir, bool join, struct cot_cluster **out,
                                             struct cot_fault *fault);
const char *cot_cluster_conninfo(const struct cot_cluster *c);
/* Looks whether it still runs and starts it again if not. */
COT_MUSTCHECK enum cot_err cot_cluster_tend(struct cot_cluster *c, struct cot_fault *fault);
/* Waits until it has stopped. */
void cot_cluster_stop(struct cot_cluster *c);

#endif
