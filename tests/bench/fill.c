/* The fill report: the laptop's, a whole process without a network, on the season it has seen; and the server's, over
 * HTTP, of the same work and of a large house (200 batches, 2,000 lines) at 32 connections. Asked for a day that nobody
 * has asked for since the ledger moved it is computed; else the server may remember it. */
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "pages.h"
#include "bench.h"

#define BATCHES 200
#define LINES 2000
#define VARIETIES 20
#define FARMS 25
#define CONNECTIONS 32

static struct cot_server *server;

static void laptop(const struct bench_mix *m)
{
    char from[300], dir[BENCH_PATH], day[COT_DAY_TEXT];
    cot_day_text(m->last_day, day);
    snprintf(from, sizeof from, "%s/laptops/office", bench_env("SEASON"));
    bench_path(dir, "fill");
    bench_copy_dir(from, dir);
    struct bench_pair p = bench_two((size_t)bench_number("COT_BENCH_RUNS", 21),
                                    (const char *const[]){COTYL_PROGRAM, "--dir", dir, "fill", "--on", day, NULL},
                                    (const char *const[]){COTYL_PROGRAM, "--dir", dir, "list", "farms", NULL});
    bench_row("fill", p.ms, "ms");
    bench_row("fill_reading_only", p.bare_ms, "ms"); /* the same process without the report: the book is read */
}

/* --- Asking the server
 * ------------------------------------------------------------------------------------------------------- */
struct asker {
    const struct cot_device *device;
    int32_t first, days; /* asks for days first, first+1 ... again and again */
    size_t asks;
    double *ms;
    bool good;
};

static void request(const struct asker *a, size_t i, struct cot_buf *out)
{
    char day[COT_DAY_TEXT], query[60];
    cot_day_text(a->first + (int32_t)(i % (size_t)a->days), day);
    snprintf(query, sizeof query, "on=%s&form=text", day);
    cot_buf_clear(out);
    bench_signed(a->device, "GET", "/v1/fill", query, NULL, 0, out);
}

static void *ask_thread(void *ctx)
{
    struct asker *a = ctx;
    struct bench_warm warm;
    struct cot_buf out = {0};
    a->good = bench_warm_open(&warm, server->port);
    for (size_t i = 0; a->good && i < a->asks; i++) {
        const char *body = "";
        size_t len = 0;
        request(a, i, &out);
        double from = bench_now();
        int status = bench_warm_ask(&warm, &out, &body, &len);
        a->ms[i] = (bench_now() - from) * 1e3;
        a->good = status == 200;
        if (!a->good) bench_say("fill: status %d: %.*s", status, (int)len, body);
    }
    bench_warm_close(&warm);
    cot_buf_free(&out);
    return NULL;
}

/* Figures of all asks, from `connections` at once, to `ms`. */
static double ask(const struct cot_device *d, size_t connections, size_t asks, int32_t first, int32_t days, double *ms)
{
    pthread_t thread[CONNECTIONS];
    struct asker a[CONNECTIONS];
    double from = bench_now();
    for (size_t i = 0; i < connections; i++) {
        a[i] = (struct asker){d, first, days, asks, ms + i * asks, false};
        ck_assert_int_eq(pthread_create(&thread[i], NULL, ask_thread, &a[i]), 0);
    }
    for (size_t i = 0; i < connections; i++) pthread_join(thread[i], NULL);
    for (size_t i = 0; i < connections; i++) ck_assert(a[i].good);
    return (double)(connections * asks) / (bench_now() - from);
}

static void season(const struct bench_mix *m)
{
    struct bench_writer w;
    struct cot_device d;
    double ms[64];
    bench_say("fill: the server's, of the season");
    cot_found(server, "Three Sluices", &d);
    bench_writer_open(&w, &d, m);
    bench_writer_load(&w, m->count - 20); /* one writing of the season, nearly */
    int32_t last = m->last_day + w.walk.shift;
    ask(&w.device, 1, 1, last, 1, ms);
    ask(&w.device, 1, 40, last - 20, 40, ms);
    bench_row("fill_server", bench_median(ms, 40), "ms");
    ask(&w.device, 1, 64, last, 1, ms);
    bench_row("fill_server_again", bench_median(ms, 64), "ms");
    bench_writer_close(&w);
}

/* --- A large house
 * ---------------------------------------------------------------------------------------------------------------- */
struct large {
    struct cot_device device;
    struct cot_draft draft;
    struct cot_id crop, format, variety[VARIETIES], lot[VARIETIES], farm[FARMS];
    int32_t today;
    size_t in_page;
};

static struct cot_id add(struct large *l, struct cot_fact *f)
{
    if (l->in_page == 0) cot_draft_start(&l->draft, &l->device);
    struct cot_id id = cot_draft_add(&l->draft, f);
    l->in_page++;
    return id;
}

static void flush(struct large *l)
{
    struct cot_buf page;
    struct cot_reply r;
    if (!l->in_page) return;
    cot_draft_end(&l->draft, &page);
    ck_assert(cot_send(&l->device, &page, &r));
    ck_assert_msg(r.status == 200, "%s", r.body);
    cot_reply_free(&r);
    cot_buf_free(&page);
    l->in_page = 0;
}

static struct cot_id add_named(struct large *l, enum cot_kind kind, const char *word, size_t i, enum cot_field field,
                               const struct cot_id *of)
{
    char name[40];
    snprintf(name, sizeof name, "%s %zu", word, i);
    struct cot_fact f = cot_fact_named(kind, name);
    if (of) ck_assert(cot_fact_set_ids(&f, field, of, 1));
    if (kind == COT_K_CROP)
        ck_assert(cot_fact_set_int(&f, COT_F_TRAY_DAYS, 28) && cot_fact_set_int(&f, COT_F_COUNT_DAYS, 10));
    if (kind == COT_K_FORMAT) ck_assert(cot_fact_set_int(&f, COT_F_ROWS, 8) && cot_fact_set_int(&f, COT_F_COLS, 16));
    if (kind == COT_K_LOT)
        ck_assert(cot_fact_set_int(&f, COT_F_TEST_SEEDS, 400) && cot_fact_set_int(&f, COT_F_TEST_GERM, 372));
    return add(l, &f);
}

static void add_batch(struct large *l, size_t i)
{
    char code[COT_CODE_TEXT];
    struct cot_fact f = {.kind = COT_K_SOWN}, c = {.kind = COT_K_COUNT, .has_about = true};
    struct cot_tray_count t = {1, 128, 110 + (int32_t)(i % 12), 8, 10 - (int32_t)(i % 10), 1};
    t.culls = t.looked - t.usable - t.blanks;
    cot_code_make(l->device.tag, (uint32_t)i + 1, code);
    ck_assert(cot_fact_set_text(&f, COT_F_CODE, code, strlen(code)) &&
              cot_fact_set_ids(&f, COT_F_LOT, &l->lot[i % VARIETIES], 1) &&
              cot_fact_set_ids(&f, COT_F_FORMAT, &l->format, 1) && cot_fact_set_int(&f, COT_F_TRAYS, 20) &&
              cot_fact_set_int(&f, COT_F_DAY, l->today - 30 + (int32_t)(i % 10)));
    c.about = add(l, &f);
    ck_assert(cot_fact_set_counts(&c, COT_F_COUNTS, &t, 1) && cot_fact_set_int(&c, COT_F_DAY, l->today - 15));
    add(l, &c);
}

static void add_line(struct large *l, size_t i)
{
    char code[COT_CODE_TEXT];
    struct cot_fact f = {.kind = COT_K_LINE, .has_farm = true},
                    p = {.kind = COT_K_PROMISE, .has_farm = true, .has_about = true};
    f.farm = p.farm = l->farm[i % FARMS];
    cot_code_make(l->device.tag, (uint32_t)(BATCHES + i + 1), code);
    ck_assert(cot_fact_set_text(&f, COT_F_CODE, code, strlen(code)) &&
              cot_fact_set_ids(&f, COT_F_VARIETY, &l->variety[i % VARIETIES], 1) &&
              cot_fact_set_ids(&f, COT_F_FORMAT, &l->format, 1) &&
              cot_fact_set_int(&f, COT_F_PLANTS, 100 + (int64_t)(i * 37 % 260)) &&
              cot_fact_set_int(&f, COT_F_DATE, l->today + (int32_t)(i % 14)));
    p.about = add(l, &f);
    ck_assert(cot_fact_set_int(&p, COT_F_PLANTS, 100 + (int64_t)(i * 37 % 260)));
    add(l, &p);
}

static void make_large(struct large *l)
{
    l->today = (int32_t)(time(NULL) / 86400);
    l->crop = add_named(l, COT_K_CROP, "Crop", 1, COT_F_NAME, NULL);
    l->format = add_named(l, COT_K_FORMAT, "Format", 1, COT_F_NAME, NULL);
    for (size_t i = 0; i < VARIETIES; i++) {
        l->variety[i] = add_named(l, COT_K_VARIETY, "Variety", i, COT_F_CROP, &l->crop);
        l->lot[i] = add_named(l, COT_K_LOT, "Lot", i, COT_F_VARIETY, &l->variety[i]);
    }
    for (size_t i = 0; i < FARMS; i++) l->farm[i] = add_named(l, COT_K_FARM, "Farm", i, COT_F_NAME, NULL);
    for (size_t i = 0; i < BATCHES; i++) add_batch(l, i);
    for (size_t i = 0; i < LINES; i++) {
        if (i % 400 == 0) flush(l);
        add_line(l, i);
    }
    flush(l);
}

static void large_house(void)
{
    struct large *l = calloc(1, sizeof *l);
    size_t asks = (size_t)bench_number("COT_BENCH_RUNS", 25), all = asks * CONNECTIONS;
    double *ms = calloc(all + 100, sizeof *ms);
    cot_found(server, "Three Sluices", &l->device);
    bench_say("fill: a house with %d batches and %d lines", BATCHES, LINES);
    make_large(l);
    ask(&l->device, 1, 1, l->today, 1, ms);
    ask(&l->device, 1, 20, l->today - 10, 20, ms);
    bench_row("fill_large", bench_median(ms, 20), "ms");
    ask(&l->device, 1, 1, l->today, 1, ms); /* the first is computed */
    double rate = ask(&l->device, CONNECTIONS, asks, l->today, 1, ms);
    bench_row("fill_large_again_p99", bench_quantile(ms, all, 0.99), "ms");
    bench_row("fill_large_again_rate", rate, "/s");
    size_t few = asks / 5 + 1;
    rate = ask(&l->device, CONNECTIONS, few, l->today - 20, 20, ms);
    bench_row("fill_large_p99", bench_quantile(ms, few * CONNECTIONS, 0.99), "ms");
    bench_row("fill_large_rate", rate, "/s");
    free(ms);
    free(l);
}

void cot_bench(void)
{
    struct bench_mix m;
    bench_mix_load(&m);
    laptop(&m);
    server = bench_server(COT_ARGS("--seconds", "300"));
    season(&m);
    large_house();
    bench_mix_free(&m);
}
