#include "loader.h"

#include <libpq-fe.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { BYTEA = 17, INT8 = 20, TEXT = 25, BYTEAS = 1001 };

static const char tables[] =
    "set client_min_messages = warning; drop schema if exists floor cascade; create schema floor;"
    "create table floor.ledger (house bytea, position bigint, receipt bigint, device text collate \"C\", number "
    "bigint, scope bytea,"
    " digest bytea, chain bytea, body bytea, primary key (house, position), unique (house, device, number));"
    "create table floor.seal (house bytea, position bigint, first bigint, seal text, primary key (house, position));"
    "create table floor.house_head (house bytea primary key, position bigint, receipt bigint, chain bytea);"
    "create table floor.device_head (house bytea, device text collate \"C\", number bigint, chain bytea, primary key "
    "(house, device));"
    "create table floor.one (house bytea, position bigint generated always as identity, digest bytea, body bytea,"
    " primary key (house, position))";

static const struct {
    const char *name, *sql, *params;
} statements[] = {
    {"begin", "begin", ""},
    {"lock", "select position from floor.house_head where house = $1 for update", "b"},
    {"rows",
     "insert into floor.ledger select $1, $2 + u.n, $3, $4, $5 + u.n, u.scope, u.digest, u.chain, u.body"
     " from unnest($6, $7, $8, $9) with ordinality as u (scope, digest, chain, body, n)",
     "biitiBBBB"},
    {"seal", "insert into floor.seal values ($1, $2, $3, $4)", "biit"},
    {"head", "update floor.house_head set position = $2, receipt = $3, chain = $4 where house = $1", "biib"},
    {"device",
     "insert into floor.device_head values ($1, $2, $3, $4) on conflict (house, device) do update set number = "
     "excluded.number,"
     " chain = excluded.chain",
     "btib"},
    {"commit", "commit", ""},
    {"one", "insert into floor.one (house, digest, body) values ($1, $2, $3)", "bbb"},
};
enum { Q_BEGIN, Q_LOCK, Q_ROWS, Q_SEAL, Q_HEAD, Q_DEVICE, Q_COMMIT, Q_ONE, Q_COUNT };

struct param {
    const char *value[9];
    int len[9];
    char ints[9][8];
    int n;
};

static void put_bytes(struct param *p, const void *bytes, size_t len)
{
    p->value[p->n] = bytes;
    p->len[p->n++] = (int)len;
}

static void put_int(struct param *p, int64_t v)
{
    char *to = p->ints[p->n];
    for (int i = 7; i >= 0; i--, v >>= 8) to[i] = (char)(v & 0xff);
    put_bytes(p, to, 8);
}

static bool told(PGconn *c, bool good)
{
    if (!good) fprintf(stderr, "bare loader: %s\n", PQerrorMessage(c));
    return good;
}

static bool run(PGconn *c, const char *sql)
{
    PGresult *r = PQexec(c, sql);
    bool good = PQresultStatus(r) == PGRES_COMMAND_OK || PQresultStatus(r) == PGRES_TUPLES_OK;
    PQclear(r);
    return told(c, good);
}

static PGconn *connect_to(const char *conninfo)
{
    PGconn *c = PQconnectdb(conninfo);
    if (told(c, PQstatus(c) == CONNECTION_OK)) return c;
    PQfinish(c);
    return NULL;
}

static Oid oid(char letter)
{
    return letter == 'b' ? BYTEA : letter == 'i' ? INT8 : letter == 't' ? TEXT : BYTEAS;
}

static bool prepare(PGconn *c)
{
    for (int q = 0; q < Q_COUNT; q++) {
        Oid types[9];
        int n = (int)strlen(statements[q].params);
        for (int i = 0; i < n; i++) types[i] = oid(statements[q].params[i]);
        PGresult *r = PQprepare(c, statements[q].name, statements[q].sql, n, types);
        bool good = PQresultStatus(r) == PGRES_COMMAND_OK;
        PQclear(r);
        if (!told(c, good)) return false;
    }
    return true;
}

static bool ask(PGconn *c, int q, const struct param *p)
{
    static const int binary[9] = {1, 1, 1, 1, 1, 1, 1, 1, 1};
    return PQsendQueryPrepared(c, statements[q].name, p ? p->n : 0, p ? p->value : NULL, p ? p->len : NULL, binary, 1);
}

/* Reads the answers of n statements and of the sync behind them; a cell of the last rows goes to *cell. */
static bool answers(PGconn *c, int n, int64_t *cell)
{
    bool good = PQpipelineSync(c);
    for (int i = 0; i < n; i++) {
        PGresult *r = PQgetResult(c);
        ExecStatusType s = PQresultStatus(r);
        good = good && (s == PGRES_COMMAND_OK || s == PGRES_TUPLES_OK);
        if (s == PGRES_TUPLES_OK && PQntuples(r) == 1 && cell) {
            const unsigned char *b = (const unsigned char *)PQgetvalue(r, 0, 0);
            *cell = 0;
            for (int k = 0; k < 8; k++) *cell = (int64_t)((uint64_t)*cell << 8 | b[k]);
        }
        PQclear(r);
        PQclear(PQgetResult(c));
    }
    PGresult *sync = PQgetResult(c);
    good = good && PQresultStatus(sync) == PGRES_PIPELINE_SYNC;
    PQclear(sync);
    return told(c, good);
}

bool floor_tables(const char *conninfo)
{
    PGconn *c = connect_to(conninfo);
    bool good = c && run(c, tables);
    PQfinish(c);
    return good;
}

bool floor_begin(const char *conninfo, const uint8_t house[static 16])
{
    static const uint8_t chain[32];
    const char *value[] = {(const char *)house, (const char *)chain};
    int len[] = {16, 32}, binary[] = {1, 1};
    PGconn *c = connect_to(conninfo);
    if (!c) return false;
    PGresult *r = PQexecParams(c, "insert into floor.house_head values ($1, 0, 0, $2)", 2, NULL, value, len, binary, 1);
    bool good = told(c, PQresultStatus(r) == PGRES_COMMAND_OK);
    PQclear(r);
    PQfinish(c);
    return good;
}

static char *put32(char *at, uint32_t v)
{
    for (int i = 3; i >= 0; i--, v >>= 8) at[i] = (char)(v & 0xff);
    return at + 4;
}

char *floor_array(const void *const *value, const size_t *len, size_t n, int *out_len)
{
    size_t all = 20 + 4 * n;
    for (size_t i = 0; i < n; i++) all += len[i];
    char *a = malloc(all), *at = a;
    if (!a) return NULL;
    at = put32(at, 1);
    at = put32(at, 0);
    at = put32(at, BYTEA);
    at = put32(at, (uint32_t)n);
    at = put32(at, 1);
    for (size_t i = 0; i < n; i++) {
        at = put32(at, (uint32_t)len[i]);
        memcpy(at, value[i], len[i]);
        at += len[i];
    }
    *out_len = (int)all;
    return a;
}

static bool load_page(PGconn *c, struct floor_loader *l, const struct floor_page *p)
{
    static const char chain[32] = "";
    char text[430];
    struct param lock = {.n = 0}, rows = {.n = 0}, sealed = {.n = 0}, head = {.n = 0}, device = {.n = 0};
    int64_t position = -1;
    put_bytes(&lock, l->house, 16);
    if (!ask(c, Q_BEGIN, NULL) || !ask(c, Q_LOCK, &lock) || !answers(c, 2, &position) || position < 0) return false;
    memset(text, 's', sizeof text);
    put_bytes(&rows, l->house, 16);
    put_int(&rows, position);
    put_int(&rows, 1);
    put_bytes(&rows, l->tag, strlen(l->tag));
    put_int(&rows, l->number);
    put_bytes(&rows, p->scope, (size_t)p->scope_len);
    put_bytes(&rows, p->digest, (size_t)p->digest_len);
    put_bytes(&rows, p->chain, (size_t)p->chain_len);
    put_bytes(&rows, p->body, (size_t)p->body_len);
    put_bytes(&sealed, l->house, 16);
    put_int(&sealed, position + p->rows);
    put_int(&sealed, position + 1);
    put_bytes(&sealed, text, sizeof text);
    put_bytes(&head, l->house, 16);
    put_int(&head, position + p->rows);
    put_int(&head, 1);
    put_bytes(&head, chain, sizeof chain);
    put_bytes(&device, l->house, 16);
    put_bytes(&device, l->tag, strlen(l->tag));
    put_int(&device, l->number + p->rows);
    put_bytes(&device, chain, sizeof chain);
    l->number += p->rows;
    return ask(c, Q_ROWS, &rows) && ask(c, Q_SEAL, &sealed) && ask(c, Q_HEAD, &head) && ask(c, Q_DEVICE, &device) &&
           ask(c, Q_COMMIT, NULL) && answers(c, 5, NULL);
}

void floor_load(struct floor_loader *l)
{
    PGconn *c = connect_to(l->conninfo);
    l->good = c && prepare(c) && PQenterPipelineMode(c);
    for (size_t i = 0; l->good && i < l->pages; i++) l->good = load_page(c, l, &l->page[i]);
    PQfinish(c);
}

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

bool floor_commits(const char *conninfo, const char *body, size_t len, size_t n, double *took)
{
    static const char house[16] = "one", digest[32] = "";
    PGconn *c = connect_to(conninfo);
    bool good = c && prepare(c);
    for (size_t i = 0; good && i < n; i++) {
        struct param p = {.n = 0};
        static const int binary[3] = {1, 1, 1};
        put_bytes(&p, house, sizeof house);
        put_bytes(&p, digest, sizeof digest);
        put_bytes(&p, body, len);
        double from = seconds();
        PGresult *r = PQexecPrepared(c, "one", p.n, p.value, p.len, binary, 1);
        took[i] = seconds() - from;
        good = told(c, PQresultStatus(r) == PGRES_COMMAND_OK);
        PQclear(r);
    }
    PQfinish(c);
    return good;
}
