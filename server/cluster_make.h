/* Making the cluster, and finding PostgreSQL's programs. Inside the cluster's room. */
#ifndef COTYLD_CLUSTER_MAKE_H
#define COTYLD_CLUSTER_MAKE_H

#include "cotyledger/core/err.h"

#include <stddef.h>

#define COT_PATH_MOST 1024

/* The directory with initdb and postgres of the version that `dir`/pg was made with; of the newest when there is none
 * yet. */
COT_MUSTCHECK enum cot_err cot_cluster_programs(const char *dir, char bin[static COT_PATH_MOST],
                                                struct cot_fault *fault);
/* Makes `dir`/pg with roles and database, whole or not at all. */
COT_MUSTCHECK enum cot_err cot_cluster_make(const char *dir, const char *bin, struct cot_fault *fault);
/* Writes who may come in, at each start: only this system's user, as one of the three roles. */
COT_MUSTCHECK enum cot_err cot_cluster_write_access(const char *dir, struct cot_fault *fault);
/* Replaces a file whole. */
COT_MUSTCHECK enum cot_err cot_write_file(const char *path, const char *text, struct cot_fault *fault);

#endif
