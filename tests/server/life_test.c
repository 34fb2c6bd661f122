/* Starting and ending: killed and started again, stopped in order, a newer database, settings that lose data, two at
 * once, admin commands beside a server, a restore, TLS, no root. */
#include "../main.h"

#include <gnutls/abstract.h>
#include <gnutls/x509.h>
#include <libpq-fe.h>
#include <pthread.h>
#include <pwd.h>
#include <signal.h>
#include <sodium.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "harness.h"

static struct cot_server server, made; /* `made`: a cluster as it is when new, copied for each test */

static void make(void)
{
    cot_server_make(&made);
    ck_assert_int_eq(cot_server_command(&made, NULL, COT_ARGS("houses")), 0);
}

static void unmake(void)
{
    cot_server_remove(&made);
}

static void setup(void)
{
    char command[300];
    cot_server_make(&server);
    snprintf(command, sizeof command, "cp -a %s %s", made.data, server.data);
    ck_assert_int_eq(system(command), 0);
}

static void teardown(void)
{
    cot_server_remove(&server);
}

static void start(const char *const *more)
{
    int status = 0;
    bool serves = cot_server_start(&server, more, &status);
    if (!serves) {
        char *log = cot_server_log(&server);
        ck_abort_msg("status %d: %s", status, log);
    }
}

static int refused(const char *const *more)
{
    int status = -1;
    ck_assert(!cot_server_start(&server, more, &status));
    return status;
}

static bool said(const char *words)
{
    char *log = cot_server_log(&server);
    bool found = strstr(log, words) != NULL;
    free(log);
    return found;
}

static PGconn *open_as(const char *role)
{
    char info[200];
    cot_server_conninfo(&server, role, info, sizeof info);
    cot_as_user(&server, true);
    PGconn *c = PQconnectdb(info);
    cot_as_user(&server, false);
    ck_assert_msg(PQstatus(c) == CONNECTION_OK, "%s", PQerrorMessage(c));
    return c;
}

static void sql(const char *role, const char *text)
{
    PGconn *c = open_as(role);
    PGresult *r = PQexec(c, text);
    ck_assert_msg(PQresultStatus(r) == PGRES_COMMAND_OK || PQresultStatus(r) == PGRES_TUPLES_OK, "%s: %s", text,
                  PQerrorMessage(c));
    PQclear(r);
    PQfinish(c);
}

static int64_t position_of(const struct cot_device *d)
{
    struct cot_reply r;
    ck_assert(cot_signed_call(d, "GET", "/v1/book", NULL, NULL, NULL, 0, &r));
    ck_assert_msg(r.status == 200, "%s", r.body);
    int64_t p = cot_json_int(r.body, r.len, "position");
    cot_reply_free(&r);
    return p;
}

/* Killed at once after an answer, started again at once: what was acknowledged is there. */
START_TEST(test_killed_and_started_again)
{
    struct cot_device m;
    start(NULL);
    cot_found(&server, "killed", &m);
    for (int i = 0; i < 6; i++) {
        struct cot_fact f = cot_fact_note("before the light goes");
        cot_device_write(&m, &f);
        ck_assert_int_eq(cot_server_stop(&server, SIGKILL), -SIGKILL);
        start(NULL);
        ck_assert_int_eq(position_of(&m), 3 + m.number);
    }
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
}
END_TEST

static pid_t postmaster(void)
{
    char path[120], line[32] = "";
    snprintf(path, sizeof path, "%s/pg/postmaster.pid", server.data);
    FILE *f = fopen(path, "re");
    if (!f) return 0;
    if (!fgets(line, sizeof line, f)) *line = '\0';
    fclose(f);
    return atoi(line);
}

static bool eventually_gone(pid_t pid)
{
    for (int i = 0; i < 2000; i++) {
        struct timespec t = {0, 10000000};
        if (kill(pid, 0) != 0) return true;
        nanosleep(&t, NULL);
    }
    return false;
}

/* No postgres is left behind, whether it was told to stop or was killed. */
START_TEST(test_nothing_left_behind)
{
    start(NULL);
    pid_t pid = postmaster();
    ck_assert_int_gt(pid, 1);
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    ck_assert_int_ne(kill(pid, 0), 0);
    start(NULL);
    pid = postmaster();
    ck_assert_int_eq(cot_server_stop(&server, SIGKILL), -SIGKILL);
    ck_assert(eventually_gone(pid));
}
END_TEST

/* The database dies alone: it is started again, and answers go on. */
START_TEST(test_database_killed)
{
    struct cot_device m;
    start(NULL);
    cot_found(&server, "database killed", &m);
    for (int hard = 0; hard < 2; hard++) {
        pid_t pid = postmaster();
        kill(pid, hard ? SIGKILL : SIGQUIT);
        ck_assert(eventually_gone(pid));
        struct cot_reply r;
        int status = 0;
        for (int i = 0; i < 600 && status != 200; i++) {
            struct timespec t = {0, 50000000};
            ck_assert(cot_signed_call(&m, "GET", "/v1/head", NULL, NULL, NULL, 0, &r));
            status = r.status;
            ck_assert_msg(status == 200 || status == 503, "%d: %s", status, r.body);
            cot_reply_free(&r);
            nanosleep(&t, NULL);
        }
        ck_assert_int_eq(status, 200);
        struct cot_fact f = cot_fact_note("after the database came back");
        cot_device_write(&m, &f);
    }
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
}
END_TEST

/* Asked to stop amid requests: each is answered or not taken at all, and what was acknowledged is there afterwards. */
struct writing {
    struct cot_device device;
    int64_t acknowledged;
};
static _Atomic bool stop_writing;
static void *write_on(void *ctx)
{
    struct writing *w = ctx;
    while (!atomic_load(&stop_writing)) {
        struct cot_draft p;
        struct cot_buf page;
        struct cot_reply r;
        struct cot_device next = w->device;
        struct cot_fact f = cot_fact_note("on and on");
        cot_draft_start(&p, &next);
        cot_draft_add(&p, &f);
        cot_draft_end(&p, &page);
        bool answered = cot_send(&next, &page, &r);
        if (answered && r.status == 200) {
            w->device = next;
            w->acknowledged = next.number;
        }
        bool go_on = answered && r.status == 200;
        cot_reply_free(&r);
        cot_buf_free(&page);
        if (!go_on) break;
    }
    return NULL;
}

START_TEST(test_stopped_amid_requests)
{
    struct cot_device m;
    struct writing w[3];
    pthread_t t[3];
    start(NULL);
    cot_found(&server, "stopped", &m);
    for (int i = 0; i < 3; i++) {
        w[i].acknowledged = 0;
        cot_device_invite(&m, "Ilse Thorn", COT_PART_HAND, NULL, &w[i].device);
    }
    atomic_store(&stop_writing, false);
    for (int i = 0; i < 3; i++) ck_assert_int_eq(pthread_create(&t[i], NULL, write_on, &w[i]), 0);
    struct timespec pause = {1, 0};
    nanosleep(&pause, NULL);
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    atomic_store(&stop_writing, true);
    for (int i = 0; i < 3; i++) pthread_join(t[i], NULL);
    start(NULL);
    for (int i = 0; i < 3; i++) {
        /* The same page again from the first number on tells what is there. */
        struct cot_device again = w[i].device;
        ck_assert_int_gt(w[i].acknowledged, 0);
        struct cot_fact f = cot_fact_note("and on");
        ck_assert_int_eq(again.number, w[i].acknowledged);
        cot_device_write(&again, &f);
    }
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
}
END_TEST

START_TEST(test_newer_database)
{
    start(NULL);
    sql("cotyledger_owner", "insert into schema_step (step, name, digest) values (9999, '9999_later', 'x')");
    struct cot_reply r;
    ck_assert(cot_http_call(&server, "GET", "/readyz", NULL, 0, NULL, 0, &r));
    ck_assert_int_eq(r.status, 503);
    cot_reply_free(&r);
    ck_assert(cot_http_call(&server, "GET", "/healthz", NULL, 0, NULL, 0, &r));
    ck_assert_int_eq(r.status, 200);
    cot_reply_free(&r);
    ck_assert_int_eq(cot_server_command(&server, NULL, COT_ARGS("houses")), 10);
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    ck_assert_int_eq(refused(NULL), 10);
    ck_assert(said("newer cotyld"));
}
END_TEST

/* A step whose text was changed after it was applied is noticed. */
START_TEST(test_changed_step)
{
    start(NULL);
    sql("cotyledger_owner", "update schema_step set digest = 'other' where step = 1");
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    ck_assert_int_eq(refused(NULL), 9);
    ck_assert(said("another text"));
}
END_TEST

static void settings(const char *line)
{
    char path[120];
    snprintf(path, sizeof path, "%s/pg/postgresql.auto.conf", server.data);
    FILE *f = fopen(path, "we");
    ck_assert_ptr_nonnull(f);
    fputs(line, f);
    fclose(f);
}

START_TEST(test_settings_that_lose_data)
{
    static const struct {
        const char *lines, *words;
        bool good;
    } cases[] = {
        {"fsync = off\n", "fsync = off", false},
        {"full_page_writes = off\n", "full_page_writes = off", false},
        {"synchronous_commit = off\n", "synchronous_commit = off", false},
        {"synchronous_commit = local\nsynchronous_standby_names = 'away'\n", "synchronous_commit = local", false},
        {"synchronous_commit = local\n", "", true},
        {"", "", true},
    };
    start(NULL);
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        settings(cases[i].lines);
        if (cases[i].good) {
            start(NULL);
            ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
        } else {
            ck_assert_int_eq(refused(NULL), 9);
            ck_assert_msg(said(cases[i].words), "%s", cases[i].words);
        }
    }
    /* The run-time role's own setting counts, not the owner's. */
    start(NULL);
    sql("cotyledger_run", "alter role cotyledger_run set synchronous_commit = off");
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    ck_assert_int_eq(refused(NULL), 9);
}
END_TEST

/* A commit whose wait for the standby was cancelled is not acknowledged; repeated later it is there once. */
static void *cancel_waiting(void *ctx)
{
    PGconn *c = ctx;
    for (int i = 0; i < 1000; i++) {
        struct timespec t = {0, 10000000};
        PGresult *r =
            PQexec(c, "select pg_cancel_backend(pid) from pg_stat_activity where usename = 'cotyledger_run' and "
                      "wait_event = 'SyncRep' and pid <> pg_backend_pid()");
        bool done = PQresultStatus(r) == PGRES_TUPLES_OK && PQntuples(r) > 0;
        PQclear(r);
        if (done) break;
        nanosleep(&t, NULL);
    }
    return NULL;
}

START_TEST(test_cancelled_wait_is_not_acknowledged)
{
    struct cot_device m;
    struct cot_draft p;
    struct cot_buf page;
    struct cot_reply r;
    pthread_t t;
    start(NULL);
    cot_found(&server, "standby", &m);
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    settings("synchronous_standby_names = 'away'\nsynchronous_commit = on\n");
    start(NULL);
    PGconn *c = open_as("cotyledger_run");
    struct cot_fact f = cot_fact_note("is it safe?");
    cot_draft_start(&p, &m);
    cot_draft_add(&p, &f);
    cot_draft_end(&p, &page);
    ck_assert_int_eq(pthread_create(&t, NULL, cancel_waiting, c), 0);
    ck_assert(cot_send(&m, &page, &r));
    pthread_join(t, NULL);
    ck_assert_int_eq(cot_reply_code(&r), COT_STORE);
    cot_reply_free(&r);
    PQfinish(c);
    cot_server_stop(&server, SIGKILL);
    ck_assert(eventually_gone(postmaster() ? postmaster() : 999999));
    settings("");
    start(NULL);
    ck_assert(cot_send(&m, &page, &r));
    ck_assert_msg(r.status == 200, "%s", r.body);
    cot_reply_free(&r);
    ck_assert_int_eq(position_of(&m), 4);
    cot_buf_free(&page);
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
}
END_TEST

/* Admin commands work beside a server and alone; a second server does not. */
START_TEST(test_beside_and_alone)
{
    char *out;
    start(NULL);
    ck_assert_int_eq(cot_server_command(&server, &out, COT_ARGS("new-house", "Alder House", "--manager", "Mara Quill")),
                     0);
    free(out);
    struct cot_server second = server;
    int status = 0;
    ck_assert(!cot_server_start(&second, NULL, &status));
    ck_assert_int_eq(status, 8);
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    ck_assert_int_eq(cot_server_command(&server, &out, COT_ARGS("houses")), 0);
    ck_assert_ptr_nonnull(strstr(out, "Alder House"));
    free(out);
    ck_assert_int_eq(cot_server_command(&server, &out, COT_ARGS("verify")), 0);
    ck_assert_ptr_nonnull(strstr(out, "everything fits"));
    free(out);
    ck_assert_int_eq(postmaster(), 0); /* it ran for as long as needed */
}
END_TEST

/* A new epoch after a restore: the old copy of the database stands in for the backup. */
START_TEST(test_restored)
{
    struct cot_device m;
    struct cot_reply r;
    char *out, house[COT_HOUSE_TEXT], command[300];
    struct cot_head head;
    char jws[600];
    start(NULL);
    cot_found(&server, "restored", &m);
    cot_house_text(&m.house, house);
    struct cot_fact f = cot_fact_note("in the backup");
    cot_device_write(&m, &f);
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    snprintf(command, sizeof command, "cp -a %s/pg %s/backup", server.data, server.data);
    ck_assert_int_eq(system(command), 0);
    start(NULL);
    struct cot_draft p;
    struct cot_buf page;
    f = cot_fact_note("not in the backup");
    cot_draft_start(&p, &m);
    cot_draft_add(&p, &f);
    cot_draft_end(&p, &page);
    ck_assert(cot_send(&m, &page, &r));
    ck_assert_int_eq(r.status, 200);
    cot_reply_free(&r);
    ck_assert_int_eq(position_of(&m), 5);
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    snprintf(command, sizeof command, "rm -rf %s/pg && mv %s/backup %s/pg", server.data, server.data, server.data);
    ck_assert_int_eq(system(command), 0);
    ck_assert_int_eq(cot_server_command(&server, &out, COT_ARGS("restored", "--house", house)), 0);
    ck_assert_str_eq(out, "2\n");
    free(out);
    start(NULL);
    ck_assert(cot_signed_call(&m, "GET", "/v1/head", NULL, NULL, NULL, 0, &r));
    ck_assert(cot_json_text(r.body, r.len, "head", jws, sizeof jws));
    ck_assert_int_eq(cot_head_open(jws, strlen(jws), &m.house_key, &head, NULL), COT_OK);
    ck_assert_int_eq(head.epoch, 2);
    ck_assert_int_eq(head.position, 4);
    cot_reply_free(&r);
    ck_assert(cot_send(&m, &page, &r)); /* what the ledger lacks is sent again */
    ck_assert_int_eq(r.status, 200);
    cot_reply_free(&r);
    ck_assert_int_eq(position_of(&m), 5);
    cot_buf_free(&page);
    ck_assert_int_eq(cot_server_command(&server, NULL, COT_ARGS("verify")), 0);
}
END_TEST

/* A restore beneath a server that runs: what it remembers is not taken for the truth. */
START_TEST(test_restored_beneath)
{
    struct cot_device m;
    struct cot_reply r;
    start(NULL);
    cot_found(&server, "beneath", &m);
    struct cot_device copy = m;
    struct cot_fact f = cot_fact_note("first");
    cot_device_write(&m, &f);
    ck_assert_int_eq(position_of(&m), 4);
    /* Take the last page out again, as if an older copy had been put in its place. */
    sql("cotyledger_owner",
        "alter table ledger disable row level security; alter table seal disable row level security;"
        "alter table house_head disable row level security; alter table device_head disable row level security;"
        "delete from ledger where position = 4; delete from seal where position = 4; delete from device_head where "
        "device = 'A';"
        "update house_head set position = 3, epoch = 2, (receipt, chain) = (select receipt, chain from ledger where "
        "position = 3);"
        "alter table ledger enable row level security; alter table seal enable row level security;"
        "alter table house_head enable row level security; alter table device_head enable row level security;");
    ck_assert_int_eq(position_of(&m), 3);
    f = cot_fact_note("another first");
    cot_device_write(&copy, &f);
    ck_assert_int_eq(position_of(&m), 4);
    ck_assert(cot_signed_call(&m, "GET", "/v1/ledger", "after=3", NULL, NULL, 0, &r));
    ck_assert_ptr_nonnull(strstr(r.body, "another first"));
    cot_reply_free(&r);
    ck_assert_int_eq(cot_server_command(&server, NULL, COT_ARGS("verify")), 0);
}
END_TEST

static void write_text(const char *path, const void *bytes, size_t len)
{
    FILE *f = fopen(path, "we");
    ck_assert_ptr_nonnull(f);
    ck_assert_int_eq(fwrite(bytes, 1, len, f), len);
    fclose(f);
    ck_assert_int_eq(chmod(path, 0600), 0); /* cotyld reads it before it gives up root */
}

static void make_certificate(const char *cert_path, const char *key_path)
{
    gnutls_x509_privkey_t key;
    gnutls_x509_crt_t cert;
    gnutls_datum_t out;
    uint8_t serial = 1;
    ck_assert_int_eq(gnutls_x509_privkey_init(&key), 0);
    ck_assert_int_eq(
        gnutls_x509_privkey_generate(key, GNUTLS_PK_ECDSA, GNUTLS_CURVE_TO_BITS(GNUTLS_ECC_CURVE_SECP256R1), 0), 0);
    ck_assert_int_eq(gnutls_x509_crt_init(&cert), 0);
    gnutls_x509_crt_set_version(cert, 3);
    gnutls_x509_crt_set_key(cert, key);
    gnutls_x509_crt_set_serial(cert, &serial, 1);
    gnutls_x509_crt_set_activation_time(cert, time(NULL) - 3600);
    gnutls_x509_crt_set_expiration_time(cert, time(NULL) + 86400);
    gnutls_x509_crt_set_dn(cert, "CN=house.example.org", NULL);
    ck_assert_int_eq(gnutls_x509_crt_sign2(cert, cert, key, GNUTLS_DIG_SHA256, 0), 0);
    ck_assert_int_eq(gnutls_x509_crt_export2(cert, GNUTLS_X509_FMT_PEM, &out), 0);
    write_text(cert_path, out.data, out.size);
    gnutls_free(out.data);
    ck_assert_int_eq(gnutls_x509_privkey_export2(key, GNUTLS_X509_FMT_PEM, &out), 0);
    write_text(key_path, out.data, out.size);
    gnutls_free(out.data);
    gnutls_x509_crt_deinit(cert);
    gnutls_x509_privkey_deinit(key);
}

START_TEST(test_tls)
{
    char cert[120], key[120], *out;
    struct cot_invitation i;
    struct cot_device m;
    snprintf(cert, sizeof cert, "%s/cert.pem", server.scratch);
    snprintf(key, sizeof key, "%s/key.pem", server.scratch);
    make_certificate(cert, key);
    const char *const tls[] = {"--tls-cert", cert, "--tls-key", key, NULL};
    start(tls);
    server.tls = true;
    const char *const make[] = {
        "--tls-cert", cert,  "--tls-key", key,          "--url", "https://house.example.org:7443",
        "new-house",  "TLS", "--manager", "Mara Quill", NULL};
    ck_assert_int_eq(cot_server_command(&server, &out, make), 0);
    ck_assert_int_eq(cot_invitation_parse(out, strcspn(out, "\n"), &i, NULL), COT_OK);
    ck_assert(i.has_pin);
    ck_assert_str_eq(i.url, "https://house.example.org:7443");
    ck_assert(cot_device_join(&server, out, &m, NULL));
    free(out);
    struct cot_fact f = cot_fact_note("sealed twice");
    cot_device_write(&m, &f);
    ck_assert_int_eq(position_of(&m), 4);
    server.tls = false; /* plain words at a TLS port are no request */
    struct cot_reply r;
    bool answered = cot_http_call(&server, "GET", "/healthz", NULL, 0, NULL, 0, &r);
    ck_assert(!answered || r.status != 200);
    cot_reply_free(&r);
    ck_assert_int_eq(cot_server_stop(&server, SIGTERM), 0);
    const char *const half[] = {"--tls-cert", cert, NULL};
    ck_assert_int_eq(refused(half), 2);
    const char *const wrong[] = {"--tls-cert", cert, "--tls-key", cert, NULL};
    ck_assert_int_ne(refused(wrong), 0);
}
END_TEST

/* Plain HTTP only where nobody else listens in. */
START_TEST(test_plain_http_beyond_loopback)
{
    ck_assert_int_eq(refused(COT_ARGS("--listen=0.0.0.0:0")), 2);
    ck_assert(said("twice")); /* the harness names an address already */
    ck_assert_int_eq(cot_server_command(&server, NULL, COT_ARGS("--listen", "0.0.0.0:0", "serve")), 2);
    ck_assert(said("plain HTTP beyond this machine"));
}
END_TEST

/* Whoever started it, the processes are not root's, and the directory is closed to others. */
START_TEST(test_no_root)
{
    char path[100], line[200];
    struct stat st;
    start(NULL);
    pid_t pids[] = {server.pid, postmaster()};
    for (int i = 0; i < 2; i++) {
        unsigned real = 0, effective = 0, saved = 0;
        snprintf(path, sizeof path, "/proc/%d/status", (int)pids[i]);
        FILE *f = fopen(path, "re");
        ck_assert_ptr_nonnull(f);
        while (fgets(line, sizeof line, f))
            if (sscanf(line, "Uid: %u %u %u", &real, &effective, &saved) == 3) break;
        fclose(f);
        ck_assert_msg(real && effective && saved, "process %d runs as root", (int)pids[i]);
    }
    ck_assert_int_eq(stat(server.data, &st), 0);
    ck_assert_int_eq(st.st_mode & 077, 0);
    ck_assert_int_ne(st.st_uid, 0);
    snprintf(path, sizeof path, "%s/s", server.data);
    ck_assert_int_eq(stat(path, &st), 0);
    ck_assert_int_eq(st.st_mode & 077, 0);
}
END_TEST

/* Without prepared statements, as behind some poolers, everything is the same. */
START_TEST(test_without_prepared_statements)
{
    struct cot_device m;
    struct cot_reply r;
    start(COT_ARGS("--no-prepared"));
    cot_found(&server, "not prepared", &m);
    for (int i = 0; i < 3; i++) {
        struct cot_fact f = cot_fact_note("each asked anew");
        cot_device_write(&m, &f);
    }
    ck_assert(cot_signed_call(&m, "GET", "/v1/ledger", "after=0", NULL, NULL, 0, &r));
    ck_assert_int_eq(r.status, 200);
    ck_assert_ptr_nonnull(strstr(r.body, "each asked anew"));
    cot_reply_free(&r);
    ck_assert_int_eq(position_of(&m), 6);
}
END_TEST

/* Demonstration: the same seed and clock make the same house and the same ledger head. */
START_TEST(test_demonstration)
{
    char clock[100], *lines[2], *books[2];
    snprintf(clock, sizeof clock, "%s/clock", server.scratch);
    FILE *f = fopen(clock, "we");
    ck_assert_ptr_nonnull(f);
    fputs("2027-03-01T08:00:00Z\n", f);
    fclose(f);
    setenv("COTYLEDGER_DEMO_CLOCK", clock, 1);
    setenv("COTYLEDGER_DEMO_SEED", "alder", 1);
    for (int i = 0; i < 2; i++) {
        char data[80];
        snprintf(data, sizeof data, "%s/demo%d", server.scratch, i);
        memcpy(server.data, data, sizeof data);
        ck_assert_int_eq(
            cot_server_command(&server, &lines[i], COT_ARGS("new-house", "Alder House", "--manager", "Mara Quill")), 0);
        ck_assert_int_eq(cot_server_command(&server, &books[i], COT_ARGS("book")), 0);
    }
    ck_assert_str_eq(lines[0], lines[1]);
    ck_assert_str_eq(books[0], books[1]);
    ck_assert(said("for demonstrations only"));
    unsetenv("COTYLEDGER_DEMO_CLOCK");
    unsetenv("COTYLEDGER_DEMO_SEED");
    for (int i = 0; i < 2; i++) {
        free(lines[i]);
        free(books[i]);
    }
}
END_TEST

/* A directory whose path is too long for a socket. */
START_TEST(test_long_path)
{
    char deep[400], *out;
    struct cot_server far = server;
    snprintf(deep, sizeof deep, "%s/%0*d", server.scratch, 90, 1);
    ck_assert_int_eq(mkdir(deep, 0711), 0);
    char whole[500];
    snprintf(whole, sizeof whole, "%s/d", deep);
    const char *const args[] = {"houses", NULL};
    /* The harness' own directory is short; so a symbolic link stands where it looks. */
    snprintf(far.data, sizeof far.data, "%s/link", server.scratch);
    ck_assert_int_eq(mkdir(whole, 0700), 0);
    ck_assert_int_eq(symlink(whole, far.data), 0);
    ck_assert_int_eq(cot_server_command(&far, &out, args), 0);
    free(out);
    strncat(whole, "/socket", sizeof whole - strlen(whole) - 1);
    FILE *f = fopen(whole, "re");
    ck_assert_ptr_nonnull(f);
    char sockets[100] = "";
    ck_assert_ptr_nonnull(fgets(sockets, sizeof sockets, f));
    fclose(f);
    ck_assert_int_ne(access(sockets, F_OK), 0); /* gone with the cluster */
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/life");
    TCase *t = tcase_create("life");
    tcase_set_timeout(t, 300);
    tcase_add_unchecked_fixture(t, make, unmake);
    tcase_add_checked_fixture(t, setup, teardown);
    tcase_add_test(t, test_killed_and_started_again);
    tcase_add_test(t, test_nothing_left_behind);
    tcase_add_test(t, test_database_killed);
    tcase_add_test(t, test_stopped_amid_requests);
    tcase_add_test(t, test_newer_database);
    tcase_add_test(t, test_changed_step);
    tcase_add_test(t, test_settings_that_lose_data);
    tcase_add_test(t, test_cancelled_wait_is_not_acknowledged);
    tcase_add_test(t, test_beside_and_alone);
    tcase_add_test(t, test_restored);
    tcase_add_test(t, test_restored_beneath);
    tcase_add_test(t, test_tls);
    tcase_add_test(t, test_plain_http_beyond_loopback);
    tcase_add_test(t, test_no_root);
    tcase_add_test(t, test_without_prepared_statements);
    tcase_add_test(t, test_demonstration);
    tcase_add_test(t, test_long_path);
    suite_add_tcase(s, t);
    return s;
}
