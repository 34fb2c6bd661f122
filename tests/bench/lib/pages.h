/* Pages of the season's mix, made beforehand, and their sending. */
#ifndef COTYLEDGER_BENCH_PAGES_H
#define COTYLEDGER_BENCH_PAGES_H

#include "mix.h"
#include "warm.h"

struct bench_page {
    struct cot_buf page, request;
    size_t entries;
};
struct bench_writer {
    struct cot_device device;
    struct bench_walk walk;
    struct bench_page *page;
    size_t pages;
    bool good; /* every page was accepted */
};
void bench_writer_open(struct bench_writer *w, const struct cot_device *d, const struct bench_mix *m);
void bench_writer_close(struct bench_writer *w);
/* Makes `entries` more in pages of `per_page`, in place of the pages there were. */
void bench_writer_make(struct bench_writer *w, size_t entries, size_t per_page);
/* Signs the requests: just before they are sent. */
void bench_writer_sign(struct bench_writer *w);
/* Sends every page on one warm connection; sets `good`. May run in a thread. */
void bench_writer_send(struct bench_writer *w);
/* Loads a house: makes and sends, with words now and then. */
void bench_writer_load(struct bench_writer *w, size_t entries);

#endif
