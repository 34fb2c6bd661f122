/* Keys as they are pressed, at a terminal. */
#ifndef COTYL_TERMINAL_H
#define COTYL_TERMINAL_H

#include <stdbool.h>
#include <stddef.h>

bool cot_at_terminal(void); /* standard input and output both are one */

/* One key, without waiting for Return; echoed, with a line's end behind it. 'q' at the end of what can be read. */
int cot_key_read(void);

/* A line that is typed or scanned, without its end: edited with Backspace, Ctrl-U empties it. A key of `at_once` that
 * comes first is a line by itself, without Return. False at the end of input (Ctrl-D on an empty line). */
bool cot_line_typed(char *line, size_t size, const char *at_once);

#endif
