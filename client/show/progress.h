/* One line on standard error for work of this laptop's own that takes a while: "working out remedies: 3 of 12 lines".
 * Only on a terminal, and only once two seconds have passed; gone when the work is done. */
#ifndef COTYL_SHOW_PROGRESS_H
#define COTYL_SHOW_PROGRESS_H

#include <stdbool.h>
#include <stdint.h>

#define COT_PROGRESS_AFTER 2000 /* milliseconds until it is shown ... */
#define COT_PROGRESS_EVERY 200  /* ... and from one telling to the next */

struct cot_progress {
    const char *doing, *what; /* "working out remedies", "lines" */
    bool show, shown;
    int64_t next; /* milliseconds of a steady clock: not told before */
};
/* `quiet`: nothing is told, whatever standard error is. */
void cot_progress_start(struct cot_progress *p, const char *doing, const char *what, bool quiet);
/* `ctx`: a struct cot_progress. */
void cot_progress_tell(void *ctx, uint32_t done, uint32_t all);
void cot_progress_end(struct cot_progress *p);

#endif
