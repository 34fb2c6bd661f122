/* Decoded entries into the book, on the demo season's mix: a house with many times the demo's work, by the same people.
 * Reading an entry's line has a row of its own. Late: everything of the bench's laptop comes three weeks after it was
 * done, and the book is asked after each page. */
#include <malloc.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "mix.h"
#include "bench.h"

#define CHUNK 25 /* decoded, then put: while what was decoded is still in the processor's cache, as in the programs */
#define PAGE 200
#define RUNS 3
#define SMALL_RUNS 31
#define LATE_MS (21LL * 86400 * 1000)

struct line {
    size_t at, len;
    struct cot_id digest;
    int64_t receipt, order;
    bool late;
};
struct house { /* its ledger's lines, made once */
    struct cot_buf text;
    struct line *line;
    size_t count, copies;
    int64_t number[26]; /* by tag */
};
struct kept {
    struct cot_fact fact;
    struct cot_decoder *decoder;
};
struct result {
    double rate, parse_rate, bytes, heap, queried;
};
enum how { IN_ORDER, PAGED, LATE };

/* --- Making the lines
 * ---------------------------------------------------------------------------------------------------------- */

/* The people and rules of the house, and its farms with their buyers, are there once. */
static bool once(enum cot_kind k)
{
    return k == COT_K_HOUSE || k == COT_K_RULE || k == COT_K_MEMBER || k == COT_K_DEVICE || k == COT_K_FARM;
}

/* Entries of one device are apart by number and tick; a code is given out once. */
static void own_header(struct house *h, size_t copy, struct cot_fact *f, char code[static COT_CODE_TEXT])
{
    const struct cot_value *v = cot_fact_value(f, COT_F_CODE);
    int64_t seen = f->seen * (int64_t)h->copies;
    f->number = ++h->number[f->tag[0] - 'A'];
    f->tick = f->tick * (int32_t)h->copies + (int32_t)copy;
    f->seen = seen < (int64_t)h->count ? seen : (int64_t)h->count;
    f->salt[0] ^= (uint8_t)copy;
    f->salt[1] ^= (uint8_t)(copy >> 8);
    if (!v || v->type != COT_T_TEXT || copy == 0) return;
    const char *dash = memchr(v->v.text, '-', v->len);
    cot_code_make(f->tag, (uint32_t)(strtoul(dash + 1, NULL, 10) + copy * 1000), code);
    BENCH_MUST(cot_fact_set_text(f, COT_F_CODE, code, strlen(code)));
}

static void write_entry(struct house *h, struct bench_walk *w, size_t row, size_t copy, struct cot_fact *f)
{
    char code[COT_CODE_TEXT];
    struct line *l = &h->line[h->count];
    bench_walk_fact(w, row, f);
    own_header(h, copy, f, code);
    l->at = h->text.len;
    BENCH_MUST(cot_entry_write(f, &h->text, NULL) == COT_OK);
    l->len = h->text.len - l->at;
    cot_digest(h->text.s + l->at, l->len, &l->digest);
    bench_walk_made(w, &l->digest);
    l->receipt = w->mix->row[row].receipt;
    l->late = strcmp(f->tag, "B") == 0;
    l->order = (int64_t)h->count++;
}

static void house_make(struct house *h, const struct bench_mix *m, size_t copies)
{
    struct bench_walk *walk = calloc(copies, sizeof *walk);
    struct cot_fact *f = malloc(sizeof *f);
    memset(h, 0, sizeof *h);
    h->copies = copies;
    h->line = calloc(m->count * copies, sizeof *h->line);
    ck_assert(walk && f && h->line);
    for (size_t i = 0; i < copies; i++) bench_walk_open(&walk[i], m);
    for (size_t row = 0; row < m->count; row++)
        for (size_t i = 0; i < copies; i++) {
            if (i == 0 || !once(m->row[row].kind)) {
                write_entry(h, &walk[i], row, i, f);
                continue;
            }
            walk[i].now[row] = walk[0].now[row];
            walk[i].has[row] = true;
        }
    for (size_t i = 0; i < copies; i++) bench_walk_close(&walk[i]);
    free(walk);
    free(f);
}

static void house_free(struct house *h)
{
    cot_buf_free(&h->text);
    free(h->line);
}

/* This thread's processor time, so that what else runs here counts for nothing. */
static double spent(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* --- Folding
 * --------------------------------------------------------------------------------------------------------------------
 */
static int by_receipt(const void *a, const void *b)
{
    const struct line *x = a, *y = b;
    if (x->receipt != y->receipt) return x->receipt < y->receipt ? -1 : 1;
    return (x->order > y->order) - (x->order < y->order);
}

static void delay(struct house *h, int64_t ms)
{
    for (size_t i = 0; i < h->count; i++) h->line[i].receipt += h->line[i].late ? ms : 0;
    qsort(h->line, h->count, sizeof *h->line, by_receipt);
}

/* As the door asks before each page. */
static void settle(struct cot_book *b)
{
    struct cot_standing who;
    cot_book_device(b, "A", INT64_MAX, &who);
    BENCH_MUST(who.known);
}

/* Lines from..from+n, decoded first, then put: *parse and *put are added to. */
static void fold_some(const struct house *h, size_t from, size_t n, struct cot_book *b, struct kept *k, bool ask,
                      double *parse, double *put)
{
    double start = spent();
    for (size_t i = 0; i < n; i++) {
        const struct line *l = &h->line[from + i];
        BENCH_MUST(cot_entry_parse(k[i].decoder, h->text.s + l->at, l->len, &k[i].fact, NULL) == COT_OK);
    }
    double parsed = spent();
    for (size_t i = 0; i < n; i++) {
        const struct line *l = &h->line[from + i];
        struct cot_row row = {(int64_t)(from + i) + 1, l->receipt, l->digest, &k[i].fact};
        BENCH_MUST(cot_book_put(b, &row) == COT_OK);
    }
    if (ask) settle(b);
    *parse += parsed - start;
    *put += spent() - parsed;
}

/* Share of what is not booked. */
static double queried(struct cot_book *b, size_t rows)
{
    size_t n, left = 0;
    const struct cot_note *note = cot_book_notes(b, &n);
    for (size_t i = 0; i < n; i++) left += note[i].verdict == COT_QUERIED;
    return (double)left / (double)rows;
}

static struct result fold(const struct house *h, struct kept *k, enum how how)
{
    struct mallinfo2 before = mallinfo2();
    struct cot_book *b = cot_book_new(NULL);
    double parse = 0, put = 0;
    for (size_t i = 0; i < h->count; i += CHUNK)
        fold_some(h, i, h->count - i < CHUNK ? h->count - i : CHUNK, b, k, how != IN_ORDER && (i + CHUNK) % PAGE == 0,
                  &parse, &put);
    double from = spent();
    settle(b); /* what is left */
    put += spent() - from;
    struct mallinfo2 after = mallinfo2();
    double rows = (double)h->count;
    struct result r = {.rate = rows / put, .parse_rate = rows / parse, .bytes = (double)cot_book_bytes(b) / rows};
    r.heap = (double)(after.uordblks + after.hblkhd - before.uordblks - before.hblkhd) / rows;
    r.queried = queried(b, h->count);
    cot_book_free(b);
    return r;
}

static struct result median(const char *what, const struct house *h, struct kept *k, enum how how, size_t runs)
{
    double rate[SMALL_RUNS], parse[SMALL_RUNS];
    struct result r = {0};
    bench_say("fold: %s, %zu runs", what, runs);
    for (size_t i = 0; i < runs; i++) {
        r = fold(h, k, how);
        rate[i] = r.rate;
        parse[i] = r.parse_rate;
    }
    r.rate = bench_median(rate, runs);
    r.parse_rate = bench_median(parse, runs);
    return r;
}

static void large(const struct bench_mix *m, struct kept *k)
{
    struct house h;
    size_t entries = (size_t)bench_number("COT_BENCH_ENTRIES", bench_number("COT_BENCH_LARGE", 0) ? 500000 : 100000);
    house_make(&h, m, entries / m->count + 1);
    struct result whole = median("in order", &h, k, IN_ORDER, RUNS),
                  paged = median("asked after each page", &h, k, PAGED, RUNS);
    delay(&h, LATE_MS);
    struct result late = median("three weeks late", &h, k, LATE, RUNS);
    bench_row("fold_entries", (double)h.count, "entries");
    bench_row("fold", whole.rate, "/s");
    bench_row("fold_bytes", whole.bytes, "B");
    bench_row("fold_heap", whole.heap, "B");
    bench_row("fold_parse", whole.parse_rate, "/s");
    bench_row("fold_paged", paged.rate, "/s");
    bench_row("fold_late", late.rate, "/s");
    bench_row("fold_late_bytes", late.bytes, "B");
    bench_row("fold_queried", whole.queried, "share");
    bench_row("fold_late_queried", late.queried, "share");
    house_free(&h);
}

void cot_bench(void)
{
    struct bench_mix m;
    struct house demo;
    struct kept *k = calloc(CHUNK, sizeof *k);
    bench_mix_load(&m);
    for (size_t i = 0; i < CHUNK; i++) k[i].decoder = cot_decoder_new();
    large(&m, k);
    house_make(&demo, &m, 1);
    struct result r = median("the demo alone", &demo, k, IN_ORDER, SMALL_RUNS);
    bench_row("fold_demo", r.rate, "/s");
    bench_row("fold_demo_bytes", r.bytes, "B");
    house_free(&demo);
    for (size_t i = 0; i < CHUNK; i++) cot_decoder_free(k[i].decoder);
    free(k);
    bench_mix_free(&m);
}
