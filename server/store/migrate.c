/* Brings the schema up to this program, and looks whether the database may be used. */
#include "conn.h"
#include "steps.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TABLE                                                                                                          \
    "create table if not exists schema_step (step integer primary key, name text not null, digest text not null, "     \
    "applied timestamptz not null default now()); grant select on schema_step to cotyledger_run"
/* One program at a time; the number is ours and arbitrary. */
#define LOCK "select pg_advisory_xact_lock(4738210553981)"

static int64_t newest(void)
{
    int64_t n = 0;
    for (const struct cot_step *s = cot_steps; s->number; s++) n = s->number;
    return n;
}

static enum cot_err too_new(struct cot_fault *fault, int64_t step)
{
    cot_fail(fault, COT_NEWER,
             "the database was written by a newer cotyld: its schema is at step %lld, this program knows %lld",
             (long long)step, (long long)newest());
    return cot_hint(fault, "install the newer version again; nothing was changed");
}

static enum cot_err run(PGconn *pg, const char *sql, struct cot_fault *fault)
{
    PGresult *r = PQexec(pg, sql);
    ExecStatusType s = PQresultStatus(r);
    enum cot_err err = COT_OK;
    if (s != PGRES_COMMAND_OK && s != PGRES_TUPLES_OK) {
        const char *why = PQresultErrorField(r, PG_DIAG_MESSAGE_PRIMARY);
        err = cot_fail(fault, COT_STORE, "unable to bring the schema up to date: %s", why ? why : PQerrorMessage(pg));
    }
    PQclear(r);
    return err;
}

static void digest_text(const char *sql, char out[static COT_ID_TEXT])
{
    struct cot_id d;
    cot_digest(sql, strlen(sql), &d);
    cot_id_text(&d, out);
}

/* Whether the step is applied already; a step that was applied with another text is an error. */
static enum cot_err applied(PGconn *pg, const struct cot_step *s, bool *done, struct cot_fault *fault)
{
    char number[16], digest[COT_ID_TEXT];
    snprintf(number, sizeof number, "%d", s->number);
    digest_text(s->sql, digest);
    const char *params[] = {number};
    PGresult *r =
        PQexecParams(pg, "select digest from schema_step where step = $1::integer", 1, NULL, params, NULL, NULL, 0);
    enum cot_err err = COT_OK;
    if (PQresultStatus(r) != PGRES_TUPLES_OK)
        err = cot_fail(fault, COT_STORE, "unable to read the schema's steps: %s", PQerrorMessage(pg));
    else *done = PQntuples(r) == 1;
    if (!err && *done && strcmp(PQgetvalue(r, 0, 0), digest) != 0) {
        (void)cot_fail(fault, COT_STORE, "schema step %d was applied with another text than this program has",
                       s->number);
        err = cot_hint(fault, "use the cotyld that made this database; nothing was changed");
    }
    PQclear(r);
    return err;
}

static enum cot_err note(PGconn *pg, const struct cot_step *s, struct cot_fault *fault)
{
    char number[16], digest[COT_ID_TEXT];
    snprintf(number, sizeof number, "%d", s->number);
    digest_text(s->sql, digest);
    const char *params[] = {number, s->name, digest};
    PGresult *r = PQexecParams(pg, "insert into schema_step (step, name, digest) values ($1::integer, $2, $3)", 3, NULL,
                               params, NULL, NULL, 0);
    bool good = PQresultStatus(r) == PGRES_COMMAND_OK;
    PQclear(r);
    return good ? COT_OK
                : cot_fail(fault, COT_STORE, "unable to note schema step %d: %s", s->number, PQerrorMessage(pg));
}

static enum cot_err apply(PGconn *pg, const struct cot_step *s, struct cot_fault *fault)
{
    bool done = false;
    enum cot_err err = run(pg, "begin; " LOCK, fault);
    if (!err) err = applied(pg, s, &done, fault);
    if (!err && !done) err = run(pg, s->sql, fault);
    if (!err && !done) err = note(pg, s, fault);
    if (!err) return run(pg, "commit", fault);
    if (run(pg, "rollback", NULL) != COT_OK) return err; /* the connection is closed anyway */
    return cot_within(fault, "schema step %d (%s)", s->number, s->name);
}

static enum cot_err refuse_newer(PGconn *pg, struct cot_fault *fault)
{
    PGresult *r = PQexec(pg, "select coalesce(max(step), 0) from schema_step");
    enum cot_err err = COT_OK;
    if (PQresultStatus(r) != PGRES_TUPLES_OK)
        err = cot_fail(fault, COT_STORE, "unable to read the schema's steps: %s", PQerrorMessage(pg));
    else if (atoll(PQgetvalue(r, 0, 0)) > newest()) err = too_new(fault, atoll(PQgetvalue(r, 0, 0)));
    PQclear(r);
    return err;
}

static bool has_table(PGconn *pg)
{
    PGresult *r =
        PQexec(pg, "select 1 from pg_catalog.pg_tables where schemaname = 'public' and tablename = 'schema_step'");
    bool has = PQresultStatus(r) == PGRES_TUPLES_OK && PQntuples(r) == 1;
    PQclear(r);
    return has;
}

enum cot_err cot_store_migrate(const char *conninfo, const char *user, struct cot_fault *fault)
{
    struct cot_conn c;
    enum cot_err err = cot_conn_open(&c, conninfo, user, false, cot_ticks_ms() + 15000, fault);
    if (err) return err;
    PQsetnonblocking(c.pg, 0);
    if (!PQexitPipelineMode(c.pg)) err = cot_fail(fault, COT_INTERNAL, "unable to leave the pipeline");
    if (!err) err = run(c.pg, "set client_min_messages = error", fault);
    if (!err && !has_table(c.pg)) err = run(c.pg, "begin; " LOCK "; " TABLE "; commit", fault);
    if (!err) err = refuse_newer(c.pg, fault);
    for (const struct cot_step *s = cot_steps; !err && s->number; s++) err = apply(c.pg, s, fault);
    cot_conn_close(&c);
    return err;
}

static enum cot_err check_settings(const PGresult *r, struct cot_fault *fault)
{
    const char *value[5];
    char text[5][64] = {{0}};
    for (int i = 0; i < 5; i++) {
        size_t len;
        const char *p = cot_cell_bytes(r, 0, i, &len);
        snprintf(text[i], sizeof text[i], "%.*s", p ? (int)len : 0, p ? p : "");
        value[i] = text[i];
    }
    static const char *const names[] = {"fsync", "full_page_writes"};
    for (int i = 0; i < 2; i++)
        if (strcmp(value[i], "on") != 0) {
            cot_fail(fault, COT_STORE, "the database runs with %s = %s: it may lose what it has acknowledged", names[i],
                     value[i]);
            return cot_hint(fault, "set %s = on in postgresql.conf and reload", names[i]);
        }
    bool standbys = *value[3] != '\0';
    if (strcmp(value[2], "off") == 0 || (strcmp(value[2], "local") == 0 && standbys)) {
        cot_fail(fault, COT_STORE,
                 "the database runs with synchronous_commit = %s: it may lose what it has acknowledged", value[2]);
        return cot_hint(fault, "set synchronous_commit = on for the role cotyledger_run, its database and the server");
    }
    if (atoi(value[4]) < 150000) return cot_fail(fault, COT_STORE, "PostgreSQL 15 or newer is needed");
    size_t len;
    const char *above = cot_cell_bytes(r, 0, 5, &len);
    if (above && len == 1 && *above) {
        cot_fail(fault, COT_STORE, "the run-time role is a superuser or bypasses row-level security");
        return cot_hint(fault, "alter role cotyledger_run nosuperuser nobypassrls");
    }
    return COT_OK;
}

enum cot_err cot_store_ready(struct cot_store *s, int64_t deadline, struct cot_fault *fault)
{
    struct cot_tx *tx = NULL;
    PGresult *r = NULL;
    enum cot_err err = cot_tx_begin(s, NULL, NULL, deadline, &tx, fault);
    if (!err) err = cot_tx_ask(tx, COT_Q_SETTINGS, NULL, &r, fault);
    if (!err) err = check_settings(r, fault);
    PQclear(r);
    r = NULL;
    if (!err) err = cot_tx_ask(tx, COT_Q_SCHEMA, NULL, &r, fault);
    if (!err && cot_cell_int(r, 0, 0) > newest()) err = too_new(fault, cot_cell_int(r, 0, 0));
    else if (!err && cot_cell_int(r, 0, 0) < newest())
        err = cot_fail(fault, COT_BUSY, "the database's schema is not up to date yet");
    PQclear(r);
    cot_tx_end(tx);
    return err;
}
