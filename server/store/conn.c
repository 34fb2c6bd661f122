/* One connection: opened with a deadline, asked through a pipeline, its answers checked for shape. */
#include "conn.h"

#include <errno.h>
#include <poll.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>

int64_t cot_ticks_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* Libpq ends its messages with a line break and may write several lines: the first is enough. */
static enum cot_err failed(struct cot_fault *fault, enum cot_err code, const char *what, const char *why)
{
    int len = (int)strcspn(why, "\n");
    return cot_fail(fault, code, "%s: %.*s", what, len, why);
}

/* A warning at commit may mean that the wait for a standby was cancelled: committed here, perhaps lost with this
 * machine. */
static void on_notice(void *ctx, const PGresult *r)
{
    struct cot_conn *c = ctx;
    const char *state = PQresultErrorField(r, PG_DIAG_SQLSTATE);
    if (state && strcmp(state, "01000") == 0) c->warned = true;
}

static int wait_for(PGconn *pg, short events, int64_t deadline)
{
    for (;;) {
        int64_t left = deadline - cot_ticks_ms();
        if (left <= 0) return 0;
        struct pollfd p = {PQsocket(pg), events, 0};
        int n = poll(&p, 1, left > 60000 ? 60000 : (int)left);
        if (n > 0) return 1;
        if (n < 0 && errno != EINTR) return -1;
    }
}

/* Keywords and values for PQconnectStartParams: the conninfo's own, then what we insist on. */
static PGconn *start(const char *conninfo, const char *user)
{
    const char *keys[12] = {"dbname"}, *values[12] = {conninfo};
    int n = 1;
    if (user) {
        keys[n] = "user";
        values[n++] = user;
    }
    keys[n] = "client_encoding";
    values[n++] = "UTF8";
    keys[n] = "fallback_application_name";
    values[n++] = "cotyld";
    keys[n] = "connect_timeout";
    values[n++] = "10";
    keys[n] = "tcp_user_timeout";
    values[n++] = "20000";
    return PQconnectStartParams(keys, values, 1);
}

enum cot_err cot_conn_open(struct cot_conn *c, const char *conninfo, const char *user, bool prepared, int64_t deadline,
                           struct cot_fault *fault)
{
    memset(c, 0, sizeof *c);
    c->prepared_wanted = prepared;
    c->pg = start(conninfo, user);
    if (!c->pg) return cot_fail(fault, COT_MEMORY, "out of memory");
    PostgresPollingStatusType s = PGRES_POLLING_WRITING;
    while (PQstatus(c->pg) != CONNECTION_BAD && s != PGRES_POLLING_OK && s != PGRES_POLLING_FAILED) {
        if (wait_for(c->pg, s == PGRES_POLLING_READING ? POLLIN : POLLOUT, deadline) <= 0) {
            cot_conn_close(c);
            return cot_fail(fault, COT_BUSY, "the database does not answer");
        }
        s = PQconnectPoll(c->pg);
    }
    if (PQstatus(c->pg) != CONNECTION_OK || PQsetnonblocking(c->pg, 1) != 0 || !PQenterPipelineMode(c->pg)) {
        enum cot_err err = failed(fault, COT_BUSY, "unable to reach the database", PQerrorMessage(c->pg));
        cot_conn_close(c);
        return err;
    }
    PQsetNoticeReceiver(c->pg, on_notice, c);
    return COT_OK;
}

void cot_conn_close(struct cot_conn *c)
{
    PQfinish(c->pg);
    c->pg = NULL;
}

bool cot_conn_alive(struct cot_conn *c)
{
    if (!c->pg || c->broken || PQstatus(c->pg) != CONNECTION_OK) return false;
    char byte;
    ssize_t n = recv(PQsocket(c->pg), &byte, 1, MSG_PEEK | MSG_DONTWAIT);
    return n < 0 && (errno == EAGAIN || errno == EWOULDBLOCK); /* idle: nothing to read, nothing hung up */
}

static int param_types(const struct cot_question_row *q, Oid types[COT_BIND_MAX], int formats[COT_BIND_MAX])
{
    int n = 0;
    for (const char *p = q->params; *p; p++, n++) {
        types[n] = cot_type_oid(*p);
        formats[n] = 1;
    }
    return n;
}

enum cot_err cot_conn_put(struct cot_conn *c, enum cot_question q, const struct cot_bind *bind, struct cot_fault *fault)
{
    const struct cot_question_row *row = &cot_questions[q];
    Oid types[COT_BIND_MAX];
    int formats[COT_BIND_MAX];
    int n = param_types(row, types, formats);
    if (n != (bind ? bind->n : 0) || c->pending + 2 > (int)(sizeof c->sent / sizeof c->sent[0]))
        return cot_fail(fault, COT_INTERNAL, "question %s asked wrongly", row->name);
    bool prepare = c->prepared_wanted && !c->prepared[q];
    for (int i = 0; prepare && i < c->pending; i++) prepare = !(c->preparing[i] && c->sent[i] == q);
    if (prepare) {
        if (!PQsendPrepare(c->pg, row->name, row->sql, n, types)) goto broken;
        c->preparing[c->pending] = true;
        c->sent[c->pending++] = q;
    }
    if (q == COT_Q_COMMIT) c->warned = false;
    int sent = c->prepared_wanted ? PQsendQueryPrepared(c->pg, row->name, n, bind ? bind->value : NULL,
                                                        bind ? bind->len : NULL, formats, 1)
                                  : PQsendQueryParams(c->pg, row->sql, n, types, bind ? bind->value : NULL,
                                                      bind ? bind->len : NULL, formats, 1);
    if (!sent) goto broken;
    c->preparing[c->pending] = false;
    c->sent[c->pending++] = q;
    return COT_OK;
broken:
    c->broken = true;
    return failed(fault, COT_BUSY, "lost the database", PQerrorMessage(c->pg));
}

static enum cot_err from_sqlstate(const char *state)
{
    static const struct {
        const char *prefix;
        enum cot_err code;
    } table[] = {
        {"57014", COT_TIMEOUT},  /* statement timeout */
        {"55P03", COT_TIMEOUT},  /* lock timeout */
        {"25P03", COT_TIMEOUT},  /* idle in transaction */
        {"57P", COT_BUSY},       /* shutting down, starting up */
        {"08", COT_BUSY},        /* connection */
        {"53300", COT_BUSY},     /* too many connections */
        {"40", COT_CONFLICT},    /* serialization, deadlock */
        {"23505", COT_CONFLICT}, /* unique */
        {"42501", COT_INTERNAL}, /* privilege or row-level security: our own mistake was caught */
    };
    for (size_t i = 0; state && i < sizeof table / sizeof table[0]; i++)
        if (strncmp(state, table[i].prefix, strlen(table[i].prefix)) == 0) return table[i].code;
    return COT_STORE;
}

static enum cot_err check_columns(const struct cot_question_row *q, const PGresult *r, struct cot_fault *fault)
{
    int n = (int)strlen(q->columns);
    if (PQnfields(r) != n) return cot_fail(fault, COT_STORE, "%s: %d columns, expected %d", q->name, PQnfields(r), n);
    for (int i = 0; i < n; i++)
        if (PQftype(r, i) != cot_type_oid(q->columns[i]) || PQfformat(r, i) != 1)
            return cot_fail(fault, COT_STORE, "%s: column %s has an unexpected type", q->name, PQfname(r, i));
    return COT_OK;
}

static enum cot_err check_result(struct cot_conn *c, int i, const PGresult *r, struct cot_fault *fault)
{
    const struct cot_question_row *q = &cot_questions[c->sent[i]];
    switch (PQresultStatus(r)) {
    case PGRES_COMMAND_OK:
        if (c->preparing[i]) c->prepared[c->sent[i]] = true;
        else if (*q->columns) return cot_fail(fault, COT_STORE, "%s: no rows came", q->name);
        /* A failed transaction answers COMMIT with ROLLBACK, and with no error. */
        else if (c->sent[i] == COT_Q_COMMIT && strcmp(PQcmdStatus((PGresult *)r), "COMMIT") != 0)
            return cot_fail(fault, COT_STORE, "the database rolled the transaction back");
        return COT_OK;
    case PGRES_TUPLES_OK:
        return check_columns(q, r, fault);
    case PGRES_PIPELINE_ABORTED:
        return COT_STORE; /* the first error was told already */
    default: {
        enum cot_err code = from_sqlstate(PQresultErrorField(r, PG_DIAG_SQLSTATE));
        if (code == COT_CONFLICT) return cot_fail(fault, code, "somebody else changed the same at the same time");
        const char *primary = PQresultErrorField(r, PG_DIAG_MESSAGE_PRIMARY);
        return failed(fault, code, q->name, primary ? primary : PQresultErrorMessage(r));
    }
    }
}

/* Libpq's output is sent and its input read until a result is there, or the deadline has passed. */
static enum cot_err next_result(struct cot_conn *c, int64_t deadline, PGresult **out, struct cot_fault *fault)
{
    int more = PQflush(c->pg);
    while (more == 1 || PQisBusy(c->pg)) {
        int ready = wait_for(c->pg, (short)(POLLIN | (more == 1 ? POLLOUT : 0)), deadline);
        if (ready <= 0) {
            c->broken = true;
            return cot_fail(fault, ready == 0 ? COT_TIMEOUT : COT_BUSY, "the database took too long");
        }
        if (!PQconsumeInput(c->pg) || (more = PQflush(c->pg)) < 0) break;
    }
    if (PQstatus(c->pg) != CONNECTION_OK || more < 0) {
        c->broken = true;
        return failed(fault, COT_BUSY, "lost the database", PQerrorMessage(c->pg));
    }
    *out = PQgetResult(c->pg);
    return COT_OK;
}

/* One command's result, and the NULL that ends it. */
static enum cot_err take(struct cot_conn *c, int i, int64_t deadline, PGresult **out, struct cot_fault *fault)
{
    PGresult *r = NULL, *end = NULL;
    enum cot_err err = next_result(c, deadline, &r, fault);
    if (err) return err;
    if (!r) {
        c->broken = true;
        return cot_fail(fault, COT_STORE, "the database gave no answer");
    }
    err = check_result(c, i, r, fault);
    enum cot_err end_err = next_result(c, deadline, &end, err ? NULL : fault);
    PQclear(end);
    if (!err) err = end_err;
    if (err || !out) PQclear(r);
    else *out = r;
    return err;
}

static enum cot_err take_sync(struct cot_conn *c, int64_t deadline, struct cot_fault *fault)
{
    PGresult *r = NULL;
    enum cot_err err = next_result(c, deadline, &r, fault);
    if (err) return err;
    bool good = r && PQresultStatus(r) == PGRES_PIPELINE_SYNC;
    PQclear(r);
    if (good) return COT_OK;
    c->broken = true;
    return cot_fail(fault, COT_STORE, "the database's answers are out of step");
}

enum cot_err cot_conn_flush(struct cot_conn *c, int64_t deadline, PGresult **out, struct cot_fault *fault)
{
    enum cot_err err = COT_OK;
    bool committing = false;
    if (out) *out = NULL;
    /* A little longer than the server's own limit, so that its clearer answer comes first. */
    int64_t until = deadline + 1000;
    if (c->broken || !PQpipelineSync(c->pg)) {
        c->broken = true;
        return failed(fault, COT_BUSY, "lost the database", PQerrorMessage(c->pg));
    }
    int n = c->pending;
    for (int i = 0; i < n && !c->broken; i++) {
        if (c->sent[i] == COT_Q_COMMIT && !c->preparing[i]) committing = true;
        bool keep = !err && i == n - 1 && out;
        enum cot_err one = take(c, i, until, keep ? out : NULL, err ? NULL : fault);
        if (one && !err) err = one;
    }
    c->pending = 0;
    if (c->broken) return err ? err : cot_fail(fault, COT_BUSY, "lost the database");
    enum cot_err sync = take_sync(c, until, err ? NULL : fault);
    if (!err) err = sync;
    if (!err && committing && c->warned)
        err = cot_fail(fault, COT_STORE, "the database warned at commit: the standby may not have it");
    if (err && out && *out) {
        PQclear(*out);
        *out = NULL;
    }
    return err;
}
