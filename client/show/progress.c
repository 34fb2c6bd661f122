/* How far a long piece of work is. */
#include "progress.h"

#include <inttypes.h>
#include <stdio.h>
#include <time.h>
#include <unistd.h>

static int64_t steady_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

void cot_progress_start(struct cot_progress *p, const char *doing, const char *what, bool quiet)
{
    *p = (struct cot_progress){.doing = doing, .what = what, .show = !quiet && isatty(STDERR_FILENO)};
    p->next = steady_ms() + COT_PROGRESS_AFTER;
}

void cot_progress_tell(void *ctx, uint32_t done, uint32_t all)
{
    struct cot_progress *p = ctx;
    if (!p->show || steady_ms() < p->next) return;
    fprintf(stderr, "\r%s: %" PRIu32 " of %" PRIu32 " %s ", p->doing, done, all, p->what);
    fflush(stderr);
    p->shown = true;
    p->next = steady_ms() + COT_PROGRESS_EVERY;
}

void cot_progress_end(struct cot_progress *p)
{
    if (p->shown) fprintf(stderr, "\r%60s\r", "");
    p->show = p->shown = false;
}
