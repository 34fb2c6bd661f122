/* Files that people asked for: whole, or not there at all. */
#ifndef COTYL_ASIDE_H
#define COTYL_ASIDE_H

#include "client.h"

/* Writes the bytes beside the path and renames them to it. IO: nothing is at the path that was not there before. */
COT_MUSTCHECK enum cot_err cot_write_aside(struct cot_cli *cli, const char *path, const void *bytes, size_t len);

#endif
