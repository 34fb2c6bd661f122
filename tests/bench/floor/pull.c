#include "pull.h"

#include <libpq-fe.h>
#include <sodium.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cotyledger/wire/entry.h"

struct floor_pull {
    PGconn *pg;
    sqlite3 *db;
    sqlite3_stmt *put;
    struct cot_decoder *decoder;
    struct cot_fact fact;
    int64_t rows;
};

bool floor_pull_prepare(const char *conninfo, const uint8_t house[static 16])
{
    char sql[400], hex[33];
    sodium_bin2hex(hex, sizeof hex, house, 16);
    snprintf(sql, sizeof sql,
             "set client_min_messages = warning; select set_config('cot.house', '%s', false); drop table if exists "
             "floor.pulled; create table floor.pulled as"
             " select position, receipt, device, number, digest, chain, body from ledger where house = '\\x%s' order "
             "by position",
             hex, hex);
    PGconn *pg = PQconnectdb(conninfo);
    PGresult *r = PQexec(pg, sql);
    bool good = PQresultStatus(r) == PGRES_COMMAND_OK;
    if (!good) fprintf(stderr, "bare pull: %s\n", PQerrorMessage(pg));
    PQclear(r);
    PQfinish(pg);
    return good;
}

static uint64_t big_endian(const char **at, int bytes)
{
    uint64_t v = 0;
    for (int i = 0; i < bytes; i++) v = v << 8 | (uint8_t) * (*at)++;
    return v;
}

/* The next cell of a row in COPY's binary form. */
static const char *cell(const char **at, int *len)
{
    *len = (int)(int32_t)big_endian(at, 4);
    const char *bytes = *at;
    *at += *len;
    return bytes;
}

static bool take_row(struct floor_pull *p, const char *at)
{
    int len;
    uint8_t digest[32];
    for (int i = 1; i <= 7; i++) {
        const char *bytes = cell(&at, &len);
        if (i == 3) sqlite3_bind_text(p->put, i, bytes, len, SQLITE_STATIC);
        else if (len != 8 || i > 4) sqlite3_bind_blob(p->put, i, bytes, len, SQLITE_STATIC);
        else sqlite3_bind_int64(p->put, i, (sqlite3_int64)big_endian(&bytes, 8));
        if (i < 7) continue;
        crypto_hash_sha256(digest, (const unsigned char *)bytes, (unsigned long long)len);
        if (cot_entry_parse(p->decoder, bytes, (size_t)len, &p->fact, NULL) != COT_OK) return false;
    }
    p->rows++;
    bool good = sqlite3_step(p->put) == SQLITE_DONE;
    sqlite3_reset(p->put);
    return good;
}

static bool copy_out(struct floor_pull *p)
{
    PGresult *r = PQexec(p->pg, "copy floor.pulled to stdout (format binary)");
    bool good = PQresultStatus(r) == PGRES_COPY_OUT;
    PQclear(r);
    for (char *row; good;) {
        int n = PQgetCopyData(p->pg, &row, 0);
        if (n <= 0) return n == -1;
        const char *at = row;
        if (p->rows == 0 && n > 19 && memcmp(row, "PGCOPY\n", 7) == 0) at += 19; /* the stream's own header */
        if ((int16_t)big_endian(&at, 2) == 7) good = take_row(p, at);
        PQfreemem(row);
    }
    return good;
}

static bool open_file(struct floor_pull *p, const char *path)
{
    return sqlite3_open(path, &p->db) == SQLITE_OK &&
           sqlite3_exec(p->db,
                        "pragma journal_mode = wal; pragma synchronous = full;"
                        "create table ledger (position integer primary key check (position > 0), receipt integer not "
                        "null, tag text not null,"
                        " number integer not null check (number > 0), digest blob not null check (length(digest) = 32),"
                        " chain blob not null check (length(chain) = 32), body blob) strict;"
                        "create unique index ledger_number on ledger (tag, number); begin immediate",
                        NULL, NULL, NULL) == SQLITE_OK &&
           sqlite3_prepare_v2(p->db, "insert into ledger values (?, ?, ?, ?, ?, ?, ?)", -1, &p->put, NULL) == SQLITE_OK;
}

struct floor_pull *floor_pull_open(const char *conninfo)
{
    struct floor_pull *p = calloc(1, sizeof *p);
    if (!p) return NULL;
    p->decoder = cot_decoder_new();
    p->pg = PQconnectdb(conninfo);
    if (p->decoder && PQstatus(p->pg) == CONNECTION_OK) return p;
    fprintf(stderr, "bare pull: %s\n", PQerrorMessage(p->pg));
    PQfinish(p->pg);
    cot_decoder_free(p->decoder);
    free(p);
    return NULL;
}

bool floor_pull_run(struct floor_pull *p, const char *path, int64_t *rows)
{
    bool good = open_file(p, path) && copy_out(p) && sqlite3_exec(p->db, "commit", NULL, NULL, NULL) == SQLITE_OK;
    if (!good) fprintf(stderr, "bare pull: %s %s\n", PQerrorMessage(p->pg), p->db ? sqlite3_errmsg(p->db) : "");
    *rows = p->rows;
    sqlite3_finalize(p->put);
    sqlite3_close(p->db);
    PQfinish(p->pg);
    cot_decoder_free(p->decoder);
    free(p);
    return good;
}
