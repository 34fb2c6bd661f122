/* Child processes. */
#ifndef COTYLD_PROCESS_H
#define COTYLD_PROCESS_H

#include <sys/types.h>

#include "cotyledger/core/err.h"

/* Starts argv[0] with output appended to `log` and `input` (may be NULL) as its standard input, in a session of its
 * own. With `dies` set it gets that signal when the thread that started it ends. -1: errno. */
pid_t cot_process_start(char *const argv[], const char *log, const char *input, int dies);
/* Runs to the end; the exit status, or -1. */
int cot_process_run(char *const argv[], const char *log, const char *input);
/* First line of what it prints, without the line break. -1 when it failed. */
int cot_process_line(char *const argv[], char *out, size_t len);

#endif
