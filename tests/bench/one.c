/* One new entry on a warm connection, from the entry's line to the answer that it is kept: sealing and signing
 * included. Against one bare HTTP request of the same bytes and one bare durable commit of the same row. */
#include <stdlib.h>
#include <string.h>

#include "floor/http.h"
#include "floor/loader.h"
#include "pages.h"
#include "bench.h"

/* In ms, of n pages of one entry each. */
static void send_ones(struct bench_writer *w, size_t n, double *ms)
{
    struct bench_warm warm;
    ck_assert(bench_warm_open(&warm, w->device.server->port));
    for (size_t i = 0; i < n; i++) {
        double from = bench_now();
        bench_writer_make(w, 1, 1);
        bench_writer_sign(w);
        int status = bench_warm_ask(&warm, &w->page[0].request, NULL, NULL);
        ms[i] = (bench_now() - from) * 1e3;
        BENCH_MUST(status == 200);
    }
    bench_warm_close(&warm);
}

static void bare_http(const struct cot_buf *request, size_t n, double *ms)
{
    int port = 0;
    struct bench_warm warm;
    struct MHD_Daemon *d = floor_http_start(&port);
    ck_assert_ptr_nonnull(d);
    ck_assert(bench_warm_open(&warm, port));
    for (size_t i = 0; i < n; i++) {
        double from = bench_now();
        BENCH_MUST(bench_warm_ask(&warm, request, NULL, NULL) == 200);
        ms[i] = (bench_now() - from) * 1e3;
    }
    bench_warm_close(&warm);
    floor_http_stop(d);
}

static void bare_commits(const struct bench_writer *w, size_t n, double *ms)
{
    char conninfo[300];
    const struct cot_buf *page = &w->page[0].page;
    const char *line = (const char *)memchr(page->s, '\n', page->len) + 1; /* behind the seal */
    bench_conninfo(conninfo, sizeof conninfo);
    bench_as_user(true);
    ck_assert(floor_tables(conninfo));
    ck_assert(floor_commits(conninfo, line, page->len - (size_t)(line - page->s), n, ms));
    bench_as_user(false);
    for (size_t i = 0; i < n; i++) ms[i] *= 1e3;
}

void cot_bench(void)
{
    size_t n = (size_t)bench_number("COT_BENCH_RUNS", 1000);
    double *ms = calloc(3 * n, sizeof *ms), *http = ms + n, *commit = http + n;
    struct bench_mix mix;
    struct bench_writer w;
    struct cot_device d;
    bench_mix_load(&mix);
    struct cot_server *s = bench_server(NULL);
    cot_found(s, "Three Sluices", &d);
    bench_writer_open(&w, &d, &mix);
    bench_say("one: %zu entries, one at a time", n);
    send_ones(&w, n < 50 ? n : 50, ms);
    send_ones(&w, n, ms);
    bare_http(&w.page[0].request, n, http);
    bare_commits(&w, n, commit);
    double mine = bench_median(ms, n), bare = bench_median(http, n) + bench_median(commit, n);
    bench_row("one", mine, "ms");
    bench_row("one_p99", bench_quantile(ms, n, 0.99), "ms");
    bench_row("one_bare_http", bench_median(http, n), "ms");
    bench_row("one_bare_commit", bench_median(commit, n), "ms");
    bench_row("one_ratio", mine / bare, "x");
    bench_writer_close(&w);
    bench_mix_free(&mix);
    free(ms);
}
