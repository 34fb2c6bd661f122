#include "pages.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "bench.h"

void bench_writer_open(struct bench_writer *w, const struct cot_device *d, const struct bench_mix *m)
{
    memset(w, 0, sizeof *w);
    w->device = *d;
    bench_walk_open(&w->walk, m);
    bench_walk_today(&w->walk);
}

static void drop_pages(struct bench_writer *w)
{
    for (size_t i = 0; i < w->pages; i++) {
        cot_buf_free(&w->page[i].page);
        cot_buf_free(&w->page[i].request);
    }
    free(w->page);
    w->page = NULL;
    w->pages = 0;
}

void bench_writer_close(struct bench_writer *w)
{
    drop_pages(w);
    bench_walk_close(&w->walk);
}

static void make_page(struct bench_writer *w, struct bench_page *p, size_t entries)
{
    struct cot_draft draft;
    struct cot_fact *f = malloc(sizeof *f);
    cot_draft_start(&draft, &w->device);
    for (size_t i = 0; i < entries; i++) {
        bench_walk_next(&w->walk, w->device.tag, f);
        f->has_member = f->has_carries = false;
        struct cot_id digest = cot_draft_add(&draft, f);
        bench_walk_made(&w->walk, &digest);
    }
    cot_draft_end(&draft, &p->page);
    p->entries = entries;
    free(f);
}

void bench_writer_make(struct bench_writer *w, size_t entries, size_t per_page)
{
    drop_pages(w);
    w->pages = (entries + per_page - 1) / per_page;
    w->page = calloc(w->pages, sizeof *w->page);
    BENCH_MUST(w->page != NULL);
    for (size_t i = 0; i < w->pages; i++, entries -= per_page)
        make_page(w, &w->page[i], entries < per_page ? entries : per_page);
}

void bench_writer_sign(struct bench_writer *w)
{
    for (size_t i = 0; i < w->pages; i++) {
        struct bench_page *p = &w->page[i];
        cot_buf_clear(&p->request);
        bench_signed(&w->device, "POST", "/v1/pages", "", p->page.s, p->page.len, &p->request);
    }
}

void bench_writer_send(struct bench_writer *w)
{
    struct bench_warm warm;
    w->good = bench_warm_open(&warm, w->device.server->port);
    if (!w->good) return;
    for (size_t i = 0; w->good && i < w->pages; i++) {
        const char *body = "";
        size_t len = 0;
        int status = bench_warm_ask(&warm, &w->page[i].request, &body, &len);
        w->good = status == 200;
        if (!w->good) bench_say("page %zu: status %d: %.*s", i, status, (int)len, body);
    }
    bench_warm_close(&warm);
}

void bench_writer_load(struct bench_writer *w, size_t entries)
{
    size_t part = 20000;
    for (size_t done = 0; done < entries; done += part) {
        bench_say("loading the house: %zu of %zu entries", done, entries);
        bench_writer_make(w, entries - done < part ? entries - done : part, 500);
        bench_writer_sign(w);
        bench_writer_send(w);
        ck_assert_msg(w->good, "the house cannot be loaded");
    }
    drop_pages(w);
}
