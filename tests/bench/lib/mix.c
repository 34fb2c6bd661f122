#include "mix.h"

#include <check.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "bench.h"

/* --- Loading
 * ----------------------------------------------------------------------------------------------------------------- */
static const struct bench_mix *sorting;

static int by_digest(const void *a, const void *b)
{
    return cot_id_cmp(&sorting->row[*(const uint32_t *)a].digest, &sorting->row[*(const uint32_t *)b].digest);
}

static bool is_work(enum cot_kind k)
{
    return cot_kind_row(k)->flags & COT_KIND_PHYSICAL;
}

/* Kind, and the latest day of the work. */
static void look_at(struct bench_mix *m, struct cot_decoder *d, struct bench_mix_row *r, struct cot_fact *f)
{
    struct cot_fault fault = {0};
    ck_assert_msg(cot_entry_parse(d, r->line, r->len, f, &fault) == COT_OK, "%s", fault.msg);
    r->kind = f->kind;
    int64_t day = is_work(f->kind) ? cot_fact_int(f, COT_F_DAY, COT_DAY_NONE) : COT_DAY_NONE;
    if (day > m->last_day) m->last_day = (int32_t)day;
}

static void read_rows(struct bench_mix *m, sqlite3 *db)
{
    sqlite3_stmt *s = NULL;
    size_t cap = 0;
    int rc = sqlite3_prepare_v2(
        db, "select position, receipt, tag, digest, body from ledger where body is not null order by position", -1, &s,
        NULL);
    ck_assert_msg(rc == SQLITE_OK, "the season's journal: %s", sqlite3_errmsg(db));
    while (sqlite3_step(s) == SQLITE_ROW) {
        if (m->count == cap) m->row = realloc(m->row, (cap = cap ? cap * 2 : 1024) * sizeof *m->row);
        struct bench_mix_row *r = &m->row[m->count++];
        memset(r, 0, sizeof *r);
        r->position = sqlite3_column_int64(s, 0);
        r->receipt = sqlite3_column_int64(s, 1);
        snprintf(r->tag, sizeof r->tag, "%s", (const char *)sqlite3_column_text(s, 2));
        memcpy(r->digest.b, sqlite3_column_blob(s, 3), sizeof r->digest.b);
        r->len = (size_t)sqlite3_column_bytes(s, 4);
        r->line = strndup(sqlite3_column_blob(s, 4), r->len);
    }
    sqlite3_finalize(s);
}

void bench_mix_load(struct bench_mix *m)
{
    char path[300];
    sqlite3 *db = NULL;
    struct cot_decoder *d = cot_decoder_new();
    struct cot_fact *f = malloc(sizeof *f);
    memset(m, 0, sizeof *m);
    m->last_day = COT_DAY_NONE;
    snprintf(path, sizeof path, "%s/laptops/office/journal.db", bench_env("SEASON"));
    ck_assert_int_eq(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    read_rows(m, db);
    sqlite3_close(db);
    ck_assert_uint_gt(m->count, 100);
    for (size_t i = 0; i < m->count; i++) look_at(m, d, &m->row[i], f);
    m->by_digest = calloc(m->count, sizeof *m->by_digest);
    for (size_t i = 0; i < m->count; i++) m->by_digest[i] = (uint32_t)i;
    sorting = m;
    qsort(m->by_digest, m->count, sizeof *m->by_digest, by_digest);
    free(f);
    cot_decoder_free(d);
}

void bench_mix_free(struct bench_mix *m)
{
    for (size_t i = 0; i < m->count; i++) free(m->row[i].line);
    free(m->row);
    free(m->by_digest);
    memset(m, 0, sizeof *m);
}

/* --- Writing anew
 * ---------------------------------------------------------------------------------------------------------------- */
void bench_walk_open(struct bench_walk *w, const struct bench_mix *m)
{
    memset(w, 0, sizeof *w);
    w->mix = m;
    w->decoder = cot_decoder_new();
    w->now = calloc(m->count, sizeof *w->now);
    w->has = calloc(m->count, sizeof *w->has);
    ck_assert(w->decoder && w->now && w->has);
}

void bench_walk_close(struct bench_walk *w)
{
    cot_decoder_free(w->decoder);
    free(w->now);
    free(w->has);
}

void bench_walk_today(struct bench_walk *w)
{
    int32_t today = (int32_t)(time(NULL) / 86400), ahead = w->mix->last_day - today;
    w->shift = ahead > 0 ? -(ahead + 6) / 7 * 7 : 0;
}

/* The row with this digest; -1 if none. */
static long find(const struct bench_mix *m, const struct cot_id *id)
{
    size_t lo = 0, hi = m->count;
    while (lo < hi) {
        size_t mid = (lo + hi) / 2;
        int c = cot_id_cmp(&m->row[m->by_digest[mid]].digest, id);
        if (c == 0) return (long)m->by_digest[mid];
        if (c < 0) lo = mid + 1;
        else hi = mid;
    }
    return -1;
}

static void follow(const struct bench_walk *w, struct cot_id *id)
{
    long row = find(w->mix, id);
    if (row >= 0 && w->has[row]) *id = w->now[row];
}

static void follow_value(struct bench_walk *w, struct cot_value *v)
{
    if (v->type == COT_T_DAY) v->v.i += w->shift;
    if (v->type != COT_T_ID && v->type != COT_T_IDS) return;
    BENCH_MUST(w->ids_used + v->len <= sizeof w->ids / sizeof w->ids[0]);
    struct cot_id *mine = w->ids + w->ids_used;
    memcpy(mine, v->v.ids, v->len * sizeof *mine);
    for (uint32_t i = 0; i < v->len; i++) follow(w, &mine[i]);
    v->v.ids = mine;
    w->ids_used += v->len;
}

void bench_walk_fact(struct bench_walk *w, size_t i, struct cot_fact *out)
{
    const struct bench_mix_row *r = &w->mix->row[i];
    BENCH_MUST(cot_entry_parse(w->decoder, r->line, r->len, out, NULL) == COT_OK);
    w->ids_used = 0;
    w->at = i + 1;
    if (out->has_about) follow(w, &out->about);
    if (out->has_farm) follow(w, &out->farm);
    if (out->has_member) follow(w, &out->member);
    if (out->has_carries) follow(w, &out->carries);
    for (unsigned v = 0; v < out->value_count; v++) follow_value(w, &out->value[v]);
}

/* The catalogue and the farms are there once; what grows is orders, seed lots and work. */
static bool once(enum cot_kind k)
{
    return k == COT_K_CROP || k == COT_K_VARIETY || k == COT_K_FORMAT || k == COT_K_PLATE || k == COT_K_FARM;
}

static bool writable(const struct bench_walk *w, const struct bench_mix_row *r)
{
    return !(cot_kind_row(r->kind)->flags & COT_KIND_ADMIN) && !(w->again && once(r->kind));
}

static void begin_again(struct bench_walk *w)
{
    w->at = 0;
    w->again = true;
    for (size_t i = 0; i < w->mix->count; i++) w->has[i] = w->has[i] && once(w->mix->row[i].kind);
}

void bench_walk_next(struct bench_walk *w, const char *tag, struct cot_fact *out)
{
    do {
        if (w->at == w->mix->count) begin_again(w);
    } while (!writable(w, &w->mix->row[w->at++]));
    bench_walk_fact(w, w->at - 1, out);
    const struct cot_value *code = cot_fact_value(out, COT_F_CODE);
    if (!code || code->type != COT_T_TEXT) return;
    cot_code_make(tag, (uint32_t)++w->codes, w->code);
    BENCH_MUST(cot_fact_set_text(out, COT_F_CODE, w->code, strlen(w->code)));
}

void bench_walk_made(struct bench_walk *w, const struct cot_id *digest)
{
    w->now[w->at - 1] = *digest;
    w->has[w->at - 1] = true;
}
