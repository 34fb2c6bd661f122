/* Signed pages over HTTP to durable rows: one client; eight clients in eight houses; eight in one house. Against a bare
 * loader that writes the same rows in the same pages with as many connections, in turn with it, on the same PostgreSQL.
 */
#include <pthread.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "floor/loader.h"
#include "cpu.h"
#include "pages.h"
#include "bench.h"

#define CLIENTS 8
#define RUNS 3
#define PER_PAGE 500

struct client {
    struct bench_writer writer;
    struct floor_loader loader;
};

static char conninfo[300];
static struct bench_mix mix;

/* --- The same rows for the bare loader
 * ------------------------------------------------------------------------------------ */
static struct floor_page bare_page(const struct bench_page *p)
{
    const void *scope[PER_PAGE], *digest[PER_PAGE], *chain[PER_PAGE], *body[PER_PAGE];
    size_t one[PER_PAGE], id[PER_PAGE], len[PER_PAGE];
    static struct cot_id ids[PER_PAGE];
    struct floor_page out = {.rows = (int64_t)p->entries};
    const char *at = memchr(p->page.s, '\n', p->page.len), *end = p->page.s + p->page.len;
    for (size_t i = 0; i < p->entries; i++) {
        const char *line = at + 1;
        at = memchr(line, '\n', (size_t)(end - line));
        cot_digest(line, (size_t)(at - line), &ids[i]);
        scope[i] = "H";
        digest[i] = chain[i] = ids[i].b;
        body[i] = line;
        one[i] = 1;
        id[i] = sizeof ids[i].b;
        len[i] = (size_t)(at - line);
    }
    out.scope = floor_array(scope, one, p->entries, &out.scope_len);
    out.digest = floor_array(digest, id, p->entries, &out.digest_len);
    out.chain = floor_array(chain, id, p->entries, &out.chain_len);
    out.body = floor_array(body, len, p->entries, &out.body_len);
    return out;
}

static void drop_bare(struct floor_loader *l)
{
    for (size_t i = 0; i < l->pages; i++) {
        free(l->page[i].scope);
        free(l->page[i].digest);
        free(l->page[i].chain);
        free(l->page[i].body);
    }
    free(l->page);
    l->page = NULL;
    l->pages = 0;
}

static void make_bare(struct client *c)
{
    drop_bare(&c->loader);
    c->loader.pages = c->writer.pages;
    c->loader.page = calloc(c->writer.pages, sizeof *c->loader.page);
    for (size_t i = 0; i < c->writer.pages; i++) c->loader.page[i] = bare_page(&c->writer.page[i]);
}

/* --- Running
 * -------------------------------------------------------------------------------------------------------------------
 */
static void *send_thread(void *ctx)
{
    bench_writer_send(&((struct client *)ctx)->writer);
    return NULL;
}

static void *load_thread(void *ctx)
{
    floor_load(&((struct client *)ctx)->loader);
    return NULL;
}

static double timed(struct client *c, size_t n, void *(*fn)(void *))
{
    pthread_t thread[CLIENTS];
    double from = bench_now();
    for (size_t i = 0; i < n; i++) ck_assert_int_eq(pthread_create(&thread[i], NULL, fn, &c[i]), 0);
    for (size_t i = 0; i < n; i++) pthread_join(thread[i], NULL);
    double took = bench_now() - from;
    for (size_t i = 0; i < n; i++) ck_assert(fn == send_thread ? c[i].writer.good : c[i].loader.good);
    return took;
}

/* The bare loader connects as the system's user that the database knows. */
static double timed_bare(struct client *c, size_t n)
{
    bench_as_user(true);
    double took = timed(c, n, load_thread);
    bench_as_user(false);
    return took;
}

struct figures {
    double rate[RUNS], server[RUNS], database[RUNS], client[RUNS];
};

static void keep(struct figures *f, int run, double entries, double took, const struct bench_cpu *a,
                 const struct bench_cpu *b)
{
    if (run < 0) return;
    f->rate[run] = entries / took;
    f->server[run] = (b->server - a->server) / entries * 1e6;
    f->database[run] = (b->database - a->database) / entries * 1e6;
    f->client[run] = (b->own - a->own) / entries * 1e6;
}

static void row(const char *name, const char *end, double *v, const char *unit)
{
    char text[80];
    snprintf(text, sizeof text, "%s%s", name, end);
    bench_row(text, bench_median(v, RUNS), unit);
}

/* Rates, and the processor time behind them, an entry. */
static void report(const char *name, struct figures *mine, struct figures *bare)
{
    char text[80];
    double ratio = bench_median(mine->rate, RUNS) / bench_median(bare->rate, RUNS);
    row(name, "", mine->rate, "/s");
    row(name, "_bare", bare->rate, "/s");
    snprintf(text, sizeof text, "%s_ratio", name);
    bench_row(text, ratio, "x");
    row(name, "_cpu_server", mine->server, "us");
    row(name, "_cpu_database", mine->database, "us");
    row(name, "_cpu_client", mine->client, "us");
    row(name, "_bare_cpu_database", bare->database, "us");
    row(name, "_bare_cpu_client", bare->client, "us");
}

static void measure(const char *name, const struct cot_server *s, struct client *c, size_t n, size_t entries)
{
    struct figures mine, bare;
    for (int run = -1; run < RUNS; run++) { /* the first is not counted */
        bench_say("%s: run %d of %d", name, run + 1, RUNS);
        size_t each = (run < 0 ? entries / 4 : entries) / n / PER_PAGE * PER_PAGE;
        if (!each) each = PER_PAGE;
        for (size_t i = 0; i < n; i++) {
            bench_writer_make(&c[i].writer, each, PER_PAGE);
            make_bare(&c[i]);
            bench_writer_sign(&c[i].writer);
        }
        struct bench_cpu a = bench_cpu(s);
        double took = timed(c, n, send_thread);
        struct bench_cpu b = bench_cpu(s);
        keep(&mine, run, (double)(each * n), took, &a, &b);
        took = timed_bare(c, n);
        a = bench_cpu(s);
        keep(&bare, run, (double)(each * n), took, &b, &a);
    }
    report(name, &mine, &bare);
}

static void open_client(struct client *c, const struct cot_device *d, bool new_house)
{
    memset(c, 0, sizeof *c);
    bench_writer_open(&c->writer, d, &mix);
    c->loader.conninfo = conninfo;
    memcpy(c->loader.house, d->house.b, sizeof c->loader.house);
    memcpy(c->loader.tag, d->tag, sizeof c->loader.tag);
    if (!new_house) return;
    bench_as_user(true);
    ck_assert(floor_begin(conninfo, d->house.b));
    bench_as_user(false);
}

static void close_clients(struct client *c, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        bench_writer_close(&c[i].writer);
        drop_bare(&c[i].loader);
    }
}

static void in_houses(const char *name, struct cot_server *s, size_t n, size_t entries)
{
    struct client c[CLIENTS];
    struct cot_device d;
    bench_say("%s: founding %zu houses", name, n);
    for (size_t i = 0; i < n; i++) {
        cot_found(s, "Three Sluices", &d);
        open_client(&c[i], &d, true);
    }
    measure(name, s, c, n, entries);
    close_clients(c, n);
}

static void in_one_house(const char *name, struct cot_server *s, size_t entries)
{
    struct client c[CLIENTS];
    struct cot_device manager, d;
    char who[20];
    cot_found(s, "Three Sluices", &manager);
    for (size_t i = 0; i < CLIENTS; i++) {
        snprintf(who, sizeof who, "Hand %zu", i);
        cot_device_invite(&manager, who, COT_PART_MANAGER, NULL, &d);
        open_client(&c[i], &d, i == 0);
    }
    measure(name, s, c, CLIENTS, entries);
    close_clients(c, CLIENTS);
}

void cot_bench(void)
{
    size_t entries = (size_t)bench_number("COT_BENCH_ENTRIES", bench_number("COT_BENCH_LARGE", 0) ? 200000 : 40000);
    bench_mix_load(&mix);
    struct cot_server *s = bench_server(NULL);
    bench_conninfo(conninfo, sizeof conninfo);
    bench_as_user(true);
    ck_assert(floor_tables(conninfo));
    bench_as_user(false);
    in_houses("ingest_1", s, 1, entries);
    in_houses("ingest_8_houses", s, CLIENTS, entries);
    in_one_house("ingest_8_one_house", s, entries);
    bench_mix_free(&mix);
}
