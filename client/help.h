/* What `--help`, `cotyl help` and the manual pages say, from the one table of commands. */
#ifndef COTYL_HELP_H
#define COTYL_HELP_H

#include <stdio.h>

#include "client.h"

void cot_help_put(FILE *out);                           /* all commands, by heading */
void cot_help_put_command(const struct cot_command *c); /* usage and text */

/* Pages that belong to no command: how codes, days and amounts are written, what exit codes mean. */
struct cot_topic {
    const char *name, *what, *text;
};
extern const struct cot_topic cot_topics[]; /* ends with a name of NULL */
const struct cot_topic *cot_topic_find(const char *name);

/* The exit codes with their meaning, one a line: two blanks, the code, the words. */
void cot_help_put_exits(FILE *out);

#endif
