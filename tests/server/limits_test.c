/* Limits on everything a stranger can send. */
#include "../main.h"

#include <arpa/inet.h>
#include <libpq-fe.h>
#include <pthread.h>
#include <signal.h>
#include <sodium.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "harness.h"

static struct cot_server server;

/* Small limits where waiting for the usual ones would take long. */
static void setup(void)
{
    cot_server_make(&server);
    ck_assert(cot_server_start(
        &server, COT_ARGS("--seconds", "3", "--connections", "40", "--per-ip", "20", "--threads", "1"), NULL));
}

static void teardown(void)
{
    cot_server_remove(&server);
}

static int raw(void)
{
    struct sockaddr_in a = {
        .sin_family = AF_INET, .sin_port = htons((uint16_t)server.port), .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    struct timeval t = {20, 0};
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    ck_assert_int_ge(fd, 0);
    ck_assert_int_eq(connect(fd, (struct sockaddr *)&a, sizeof a), 0);
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &t, sizeof t);
    return fd;
}

static bool say(int fd, const void *bytes, size_t len)
{
    for (const char *p = bytes; len > 0;) {
        ssize_t n = send(fd, p, len, MSG_NOSIGNAL);
        if (n <= 0) return false;
        p += n;
        len -= (size_t)n;
    }
    return true;
}

/* The status of what comes back; 0: closed without an answer; -1: nothing within the time. */
static int answer(int fd)
{
    char text[4096];
    size_t n = 0;
    ssize_t got = -1;
    while (n + 1 < sizeof text && (got = recv(fd, text + n, sizeof text - 1 - n, 0)) > 0) {
        n += (size_t)got;
        text[n] = '\0';
        if (strstr(text, "\r\n\r\n")) break;
    }
    if (n == 0) return got == 0 ? 0 : -1;
    text[n] = '\0';
    return strncmp(text, "HTTP/1.1 ", 9) == 0 ? atoi(text + 9) : 0;
}

static int talk(const char *bytes, size_t len)
{
    int fd = raw();
    say(fd, bytes, len);
    int status = answer(fd);
    close(fd);
    return status;
}

static bool alive(void)
{
    struct cot_reply r;
    bool good = cot_http_call(&server, "GET", "/readyz", NULL, 0, NULL, 0, &r) && r.status == 200;
    cot_reply_free(&r);
    return good;
}

static int post(const char *path, const char *type, size_t len)
{
    char *body = malloc(len + 1);
    struct cot_reply r;
    memset(body, 'a', len);
    struct cot_http_header headers[] = {{"Content-Type", type}, {"Cotyledger-House", "AAAAAAAAAAAAAAAAAAAAAA"}};
    bool answered = cot_http_call(&server, "POST", path, headers, 2, body, len, &r);
    int status = answered ? r.status : 0;
    cot_reply_free(&r);
    free(body);
    return status;
}

START_TEST(test_bodies)
{
    ck_assert_int_eq(post("/v1/join", "application/json", 8192), 400);
    ck_assert_int_eq(post("/v1/join", "application/json", 8193), 413);
    ck_assert_int_eq(post("/v1/pages", "application/x-ndjson", 4 << 20), 401);
    ck_assert_int_eq(post("/v1/pages", "application/x-ndjson", (4 << 20) + 1), 413);
    int status = post("/v1/pages", "application/x-ndjson", 16 << 20); /* far too large: not read, perhaps cut off */
    ck_assert_msg(status == 413 || status == 0, "%d", status);
    ck_assert_int_eq(post("/v1/nowhere", "application/json", 100000), 404);
    ck_assert_int_eq(post("/v1/join", "text/plain", 10), 400);
    ck_assert(alive());
}
END_TEST

/* A body without an announced length: refused at its end, or cut off when it has none. */
START_TEST(test_unannounced_body)
{
    static const char start[] =
        "POST /v1/join HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n";
    char chunk[4200];
    int n = snprintf(chunk, sizeof chunk, "1000\r\n%04096d\r\n", 0);
    int fd = raw();
    ck_assert(say(fd, start, sizeof start - 1));
    for (int i = 0; i < 3; i++) say(fd, chunk, (size_t)n);
    say(fd, "0\r\n\r\n", 5);
    ck_assert_int_eq(answer(fd), 413);
    close(fd);
    fd = raw();
    ck_assert(say(fd, start, sizeof start - 1));
    bool cut = false;
    for (int i = 0; i < 100000 && !cut; i++) cut = !say(fd, chunk, (size_t)n);
    ck_assert(cut);
    close(fd);
    ck_assert(alive());
}
END_TEST

/* Two headers that say where the body ends: one answer, and nothing after it is taken as a request. */
START_TEST(test_two_ends)
{
    static const char *const ends[] = {"Content-Length: 4\r\nContent-Length: 60\r\n",
                                       "Content-Length: 4\r\nContent-Length: 4\r\n",
                                       "Content-Length: 60\r\nTransfer-Encoding: chunked\r\n",
                                       "Transfer-Encoding: chunked\r\nTransfer-Encoding: identity\r\n"};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        char text[512], got[4096];
        int n = snprintf(text, sizeof text,
                         "POST /v1/join HTTP/1.1\r\nHost: x\r\n%s\r\n0\r\n\r\nGET /healthz HTTP/1.1\r\nHost: x\r\n\r\n",
                         ends[i]);
        int fd = raw();
        size_t len = 0;
        ssize_t more;
        ck_assert(say(fd, text, (size_t)n));
        while (len + 1 < sizeof got && (more = recv(fd, got + len, sizeof got - 1 - len, 0)) > 0) len += (size_t)more;
        got[len] = '\0';
        close(fd);
        ck_assert_msg(strncmp(got, "HTTP/1.1 400 ", 13) == 0, "%s: %s", ends[i], got);
        ck_assert_ptr_null(strstr(got + 8, "HTTP/1.1"));
    }
    ck_assert(alive());
}
END_TEST

START_TEST(test_headers)
{
    struct cot_buf b = {0};
    cot_buf_str(&b, "GET /healthz HTTP/1.1\r\nHost: x\r\n");
    for (int i = 0; i < 20; i++) cot_buf_fmt(&b, "X-Filler-%d: %0900d\r\n", i, 0); /* 18 KiB */
    cot_buf_str(&b, "\r\n");
    ck_assert_int_eq(talk(b.s, b.len), 413);
    cot_buf_clear(&b);
    cot_buf_str(&b, "GET /healthz HTTP/1.1\r\nHost: x\r\n");
    for (int i = 0; i < 200; i++) cot_buf_fmt(&b, "X-Filler-%d: %0900d\r\n", i, 0); /* more than there is memory for */
    cot_buf_str(&b, "\r\n");
    int status = talk(b.s, b.len);
    ck_assert_msg(status == 431 || status == 413 || status == 0, "%d", status);
    cot_buf_clear(&b);
    cot_buf_str(&b, "GET /");
    for (int i = 0; i < 200; i++) cot_buf_fmt(&b, "%0900d", 0);
    cot_buf_str(&b, " HTTP/1.1\r\nHost: x\r\n\r\n");
    status = talk(b.s, b.len);
    ck_assert_msg(status == 414 || status == 413 || status == 431 || status == 0, "%d", status);
    cot_buf_free(&b);
    struct cot_reply r;
    struct cot_http_header twice[] = {{"Cotyledger-House", "AAAAAAAAAAAAAAAAAAAAAA"},
                                      {"Cotyledger-House", "BAAAAAAAAAAAAAAAAAAAAA"}};
    ck_assert(cot_http_call(&server, "GET", "/v1/head", twice, 2, NULL, 0, &r));
    ck_assert_int_eq(r.status, 400);
    cot_reply_free(&r);
    ck_assert(alive());
}
END_TEST

START_TEST(test_routes_and_methods)
{
    static const char *const asks[][2] = {{"GET", "/"},
                                          {"GET", "/v1"},
                                          {"GET", "/v1/join"},
                                          {"POST", "/healthz"},
                                          {"PUT", "/v1/pages"},
                                          {"DELETE", "/v1/ledger"},
                                          {"OPTIONS", "/v1/head"},
                                          {"GET", "/v1/head/"},
                                          {"GET", "//healthz"},
                                          {"GET", "/v1/../healthz"},
                                          {"GET", "/%68ealthz"},
                                          {"TRACE", "/healthz"},
                                          {"ABCDEFGHIJKLMNOPQRSTUVWXYZ", "/healthz"}};
    for (size_t i = 0; i < sizeof asks / sizeof asks[0]; i++) {
        struct cot_reply r;
        ck_assert(cot_http_call(&server, asks[i][0], asks[i][1], NULL, 0, NULL, 0, &r));
        ck_assert_msg(r.status == 404, "%s %s: %d", asks[i][0], asks[i][1], r.status);
        ck_assert_int_eq(cot_reply_code(&r), COT_NOT_FOUND);
        cot_reply_free(&r);
    }
    ck_assert(alive());
}
END_TEST

/* Random bytes at the port: never an end of the server. */
START_TEST(test_noise)
{
    unsigned seed = (unsigned)time(NULL);
    for (int i = 0; i < 60; i++) {
        char bytes[600];
        unsigned state = seed + (unsigned)i;
        for (size_t k = 0; k < sizeof bytes; k++) bytes[k] = (char)(rand_r(&state) >> 7);
        if (i % 2) memcpy(bytes, "POST /v1/join HTTP/1.1\r\n", 24);
        int fd = raw();
        say(fd, bytes, sizeof bytes);
        shutdown(fd, SHUT_WR);
        while (recv(fd, bytes, sizeof bytes, 0) > 0) {
        }
        close(fd);
        ck_assert_msg(alive(), "seed %u, run %d", seed, i);
    }
}
END_TEST

/* Whoever takes longer than a request may to say what it wants is cut off, though it is never silent. */
static void drip(const char *start, const char *drop)
{
    int fd = raw();
    time_t began = time(NULL);
    bool cut = !say(fd, start, strlen(start));
    while (!cut && time(NULL) - began < 30) {
        struct timespec t = {0, 200000000};
        nanosleep(&t, NULL);
        char byte;
        cut = !say(fd, drop, strlen(drop)) || recv(fd, &byte, 1, MSG_DONTWAIT) == 0;
    }
    close(fd);
    ck_assert(cut);
    ck_assert(alive());
}

START_TEST(test_slow_header)
{
    drip("GET /healthz HTTP/1.1\r\nX-Slow: ", "a");
}
END_TEST

START_TEST(test_slow_body)
{
    drip("POST /v1/join HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 8000\r\n\r\n{", " ");
}
END_TEST

/* More connections than one address may have: the rest is turned away, the first go on, and room comes back. */
START_TEST(test_connections)
{
    int fd[30], good = 0;
    static const char ask[] = "GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n";
    for (int i = 0; i < 30; i++) {
        struct timeval t = {1, 0};
        fd[i] = raw();
        setsockopt(fd[i], SOL_SOCKET, SO_RCVTIMEO, &t, sizeof t);
        say(fd[i], ask, sizeof ask - 1);
        good += answer(fd[i]) == 200;
    }
    ck_assert_int_gt(good, 10);
    ck_assert_int_le(good, 20);
    for (int i = 0; i < 30; i++) close(fd[i]);
    bool back = false;
    for (int i = 0; i < 100 && !back; i++) {
        struct timespec t = {0, 50000000};
        nanosleep(&t, NULL);
        back = alive();
    }
    ck_assert(back);
}
END_TEST

/* Pages and entries: the grammar's own limits hold at the door. */
START_TEST(test_entries)
{
    struct cot_device m;
    struct cot_draft p;
    struct cot_buf page;
    struct cot_reply r;
    cot_found(&server, "limits", &m);
    struct cot_device copy = m;
    cot_draft_start(&p, &copy);
    for (int i = 0; i < 1001; i++) {
        struct cot_fact f = cot_fact_note("one too many");
        cot_draft_add(&p, &f);
    }
    cot_draft_end(&p, &page);
    ck_assert(cot_send(&copy, &page, &r));
    ck_assert_int_eq(cot_reply_code(&r), COT_TOO_LARGE);
    cot_reply_free(&r);
    cot_buf_free(&page);
    cot_draft_start(&p, &m);
    for (int i = 0; i < 1000; i++) {
        struct cot_fact f = cot_fact_note("as many as may be");
        cot_draft_add(&p, &f);
    }
    cot_draft_end(&p, &page);
    ck_assert(cot_send(&m, &page, &r));
    ck_assert_msg(r.status == 200, "%s", r.body);
    cot_reply_free(&r);
    cot_buf_free(&page);
}
END_TEST

/* A queue with room for one: the rest is told to come again, and nothing is lost or doubled. */
static struct cot_server narrow;
static _Atomic int busy, fine;
static void *ask_head(void *ctx)
{
    for (int i = 0; i < 30; i++) {
        struct cot_reply r;
        if (!cot_signed_call(ctx, "GET", "/v1/book", "at=3", NULL, NULL, 0, &r)) continue;
        if (r.status == 200) atomic_fetch_add(&fine, 1);
        else if (cot_reply_code(&r) == COT_BUSY) atomic_fetch_add(&busy, 1);
        cot_reply_free(&r);
    }
    return NULL;
}

START_TEST(test_queue)
{
    struct cot_device m;
    pthread_t t[12];
    cot_server_make(&narrow);
    ck_assert(cot_server_start(&narrow, COT_ARGS("--workers", "1", "--queue", "1", "--seconds", "20"), NULL));
    cot_found(&narrow, "queue", &m);
    for (int i = 0; i < 12; i++) ck_assert_int_eq(pthread_create(&t[i], NULL, ask_head, &m), 0);
    for (int i = 0; i < 12; i++) pthread_join(t[i], NULL);
    ck_assert_int_gt(fine, 0);
    ck_assert_int_gt(busy, 0);
    ck_assert_int_eq(fine + busy, 360);
    cot_server_remove(&narrow);
}
END_TEST

/* More parameters than there is memory for: the connection ends, and nothing of the request is kept. What is let go is
 * logged. */
START_TEST(test_endless_parameters)
{
    static struct cot_server small;
    char target[1200] = "/many?on=1";
    size_t n = strlen(target), found = 0;
    memset(target + n, '&', 1000);
    target[n + 1000] = '\0';
    cot_server_make(&small);
    ck_assert(cot_server_start(&small, COT_ARGS("--seconds", "2"), NULL));
    for (int i = 0; i < 3; i++) {
        struct cot_reply r = {0};
        (void)cot_http_call(&small, "GET", target, NULL, 0, NULL, 0, &r);
        ck_assert_int_ne(r.status, 200);
        cot_reply_free(&r);
    }
    ck_assert_int_eq(cot_server_stop(&small, SIGTERM), 0);
    char *log = cot_server_log(&small);
    for (const char *p = log; (p = strstr(p, "path=/many ")); p++) found++;
    ck_assert_uint_eq(found, 3);
    free(log);
    cot_server_remove(&small);
}
END_TEST

/* Somebody else holds the house's row: the answer says so when a request's time is over, and nothing was taken. */
START_TEST(test_time_for_an_answer)
{
    struct cot_device m;
    struct cot_draft p;
    struct cot_buf page;
    struct cot_reply r;
    char info[200], text[200], hex[33];
    cot_found(&server, "held up", &m);
    struct cot_fact f = cot_fact_note("waiting");
    cot_draft_start(&p, &m);
    cot_draft_add(&p, &f);
    cot_draft_end(&p, &page);
    cot_server_conninfo(&server, "cotyledger_run", info, sizeof info);
    cot_as_user(&server, true);
    PGconn *c = PQconnectdb(info);
    cot_as_user(&server, false);
    sodium_bin2hex(hex, sizeof hex, m.house.b, sizeof m.house.b);
    snprintf(text, sizeof text, "begin; select set_config('cot.house', '%s', true); select * from head_lock('H')", hex);
    PGresult *locked = PQexec(c, text);
    ck_assert_int_eq(PQresultStatus(locked), PGRES_TUPLES_OK);
    ck_assert_int_eq(PQntuples(locked), 1);
    PQclear(locked);
    ck_assert(cot_send(&m, &page, &r));
    ck_assert_int_eq(cot_reply_code(&r), COT_TIMEOUT);
    ck_assert_int_eq(r.status, 503);
    cot_reply_free(&r);
    ck_assert(cot_signed_call(&m, "GET", "/v1/book", NULL, NULL, NULL, 0, &r)); /* reading goes on meanwhile */
    ck_assert_int_eq(cot_json_int(r.body, r.len, "position"), 3);
    cot_reply_free(&r);
    PQfinish(c);
    ck_assert(cot_send(&m, &page, &r));
    ck_assert_msg(r.status == 200, "%s", r.body);
    ck_assert_ptr_nonnull(strstr(r.body, "\"position\":4"));
    cot_reply_free(&r);
    cot_buf_free(&page);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/limits");
    TCase *t = tcase_create("limits");
    tcase_set_timeout(t, 120);
    tcase_add_unchecked_fixture(t, setup, teardown);
    tcase_add_test(t, test_bodies);
    tcase_add_test(t, test_unannounced_body);
    tcase_add_test(t, test_two_ends);
    tcase_add_test(t, test_headers);
    tcase_add_test(t, test_routes_and_methods);
    tcase_add_test(t, test_noise);
    tcase_add_test(t, test_slow_header);
    tcase_add_test(t, test_slow_body);
    tcase_add_test(t, test_connections);
    tcase_add_test(t, test_entries);
    tcase_add_test(t, test_time_for_an_answer);
    tcase_add_test(t, test_endless_parameters);
    tcase_add_test(t, test_queue);
    suite_add_tcase(s, t);
    return s;
}
