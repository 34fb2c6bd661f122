/* Bare: rows out of PostgreSQL by COPY, one parse and one SHA-256 of each, into SQLite in one durable transaction. */
#ifndef COTYLEDGER_FLOOR_PULL_H
#define COTYLEDGER_FLOOR_PULL_H

#include <stdbool.h>
#include <stdint.h>

/* Copies a house's rows to a plain table of floor_tables' schema, untimed. */
bool floor_pull_prepare(const char *conninfo, const uint8_t house[static 16]);
/* Connected only, since the database may know another user of this system than the one who may write the file. NULL
 * with words. */
struct floor_pull;
struct floor_pull *floor_pull_open(const char *conninfo);
/* Into a new database at `path`; *rows receives how many. Closes. */
bool floor_pull_run(struct floor_pull *p, const char *path, int64_t *rows);

#endif
