/* Listening: libmicrohttpd's callbacks, from the first line of a request to the answer's last byte. */
#include <arpa/inet.h>
#include <errno.h>
#include <inttypes.h>
#include <netdb.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <time.h>
#include <unistd.h>

#include "call.h"
#include "clock.h"
#include "log.h"
#include "replay.h"
#include "turns.h"
#include "watch.h"
#include "workers.h"

/* Room for the headers that we allow, and for reading bodies in pieces of this size. */
#define CONNECTION_MEMORY (32u << 10)

/* First of all calls, with the line as it was sent: libmicrohttpd unescapes what it hands out later. */
static void *on_uri(void *ctx, const char *uri, struct MHD_Connection *conn)
{
    struct cot_http *h = ctx;
    struct cot_call *c = calloc(1, sizeof *c);
    if (!c) return NULL;
    const char *mark = strchr(uri, '?');
    c->path = mark ? strndup(uri, (size_t)(mark - uri)) : strdup(uri);
    c->query = strdup(mark ? mark + 1 : "");
    c->http = h;
    c->conn = conn;
    c->started = cot_ticks_ms();
    c->deadline = c->started + (int64_t)h->options.seconds * 1000;
    atomic_fetch_add(&h->open, 1);
    (void)cot_watch_hold(conn, c);
    return c;
}

struct headers {
    struct cot_call *call;
    size_t bytes;
    bool twice;
    int ends; /* headers that say where the body ends */
};

static enum MHD_Result on_header(void *ctx, enum MHD_ValueKind kind, const char *name, const char *value)
{
    static const char *const names[COT_H_COUNT] = {"Cotyledger-House", "Content-Type", "Content-Digest",
                                                   "Signature-Input", "Signature"};
    struct headers *h = ctx;
    (void)kind;
    h->ends += strcasecmp(name, "Content-Length") == 0 || strcasecmp(name, "Transfer-Encoding") == 0;
    h->bytes += strlen(name) + (value ? strlen(value) : 0) + 4;
    for (int i = 0; i < COT_H_COUNT; i++) {
        if (strcasecmp(name, names[i]) != 0) continue;
        if (h->call->header[i]) h->twice = true;
        h->call->header[i] = value;
    }
    return MHD_YES;
}

/* Everything that can be refused before a body is read. */
static enum cot_err check_start(struct cot_call *c, const char *method, struct cot_fault *fault)
{
    struct headers h = {.call = c};
    MHD_get_connection_values(c->conn, MHD_HEADER_KIND, on_header, &h);
    c->unsure_end = h.ends > 1;
    if (c->unsure_end) return cot_fail(fault, COT_MALFORMED, "more than one header says where the body ends");
    if (!c->path || !c->query) return cot_fail(fault, COT_MEMORY, "out of memory");
    if (atomic_load(&c->http->stopping)) return cot_fail(fault, COT_BUSY, "the server is stopping");
    if (strlen(method) < sizeof c->method) c->route = cot_route_find(method, c->path);
    if (!c->route) return cot_fail(fault, COT_NOT_FOUND, "there is no route %.10s %.200s", method, c->path);
    snprintf(c->method, sizeof c->method, "%s", method);
    if (h.bytes + strlen(c->path) + strlen(c->query) > COT_HEADER_BYTES)
        return cot_fail(fault, COT_TOO_LARGE, "the headers are longer than %d bytes", COT_HEADER_BYTES);
    if (h.twice) return cot_fail(fault, COT_MALFORMED, "a header is there twice");
    return COT_OK;
}

static size_t body_limit(const struct cot_call *c)
{
    return c->route && c->route->body ? c->route->body : c->http->options.body;
}

static void too_large(struct cot_call *c, struct cot_fault *fault)
{
    cot_fail(fault, COT_TOO_LARGE, "the body is longer than %zu bytes", body_limit(c));
}

static enum MHD_Result send_reply(struct cot_call *c)
{
    char date[40];
    time_t now = (time_t)(cot_clock_ms() / 1000);
    struct tm tm;
    struct MHD_Response *r = MHD_create_response_from_buffer(c->reply.len, c->reply.s, MHD_RESPMEM_MUST_FREE);
    if (!r) return MHD_NO;
    c->reply = (struct cot_buf){0};
    gmtime_r(&now, &tm);
    strftime(date, sizeof date, "%a, %d %b %Y %H:%M:%S GMT", &tm); /* the program never sets a locale */
    MHD_add_response_header(r, "Date", date);
    MHD_add_response_header(r, "Content-Type", c->type);
    MHD_add_response_header(r, "Cache-Control", "no-store");
    if (c->code == COT_BUSY || c->code == COT_TIMEOUT) MHD_add_response_header(r, "Retry-After", "1");
    if (atomic_load(&c->http->stopping)) MHD_add_response_header(r, "Connection", "close");
    enum MHD_Result sent = MHD_queue_response(c->conn, (unsigned)c->status, r);
    MHD_destroy_response(r);
    c->state = COT_CALL_SENT;
    return sent;
}

static enum MHD_Result send_refusal(struct cot_call *c)
{
    cot_call_refuse(c, &c->refused);
    cot_watch_rests(c->conn, true);
    return send_reply(c);
}

/* A body that is refused is read on a little, not kept: an answer before its end might never be seen by who still
 * sends. */
static size_t patience(const struct cot_call *c)
{
    return 2 * body_limit(c) + (64u << 10);
}

/* Once with the headers only, then once for each piece of the body, then once more. */
static enum MHD_Result begin(struct cot_call *c, const char *method)
{
    c->state = COT_CALL_READING;
    const char *length = MHD_lookup_connection_value(c->conn, MHD_HEADER_KIND, "Content-Length");
    unsigned long long announced = length ? strtoull(length, NULL, 10) : 0;
    if (check_start(c, method, &c->refused) == COT_OK && announced > body_limit(c)) too_large(c, &c->refused);
    /* Not read at all: the connection ends with the answer. A proxy before us may see another end of the body than we
     * do, and what follows it as a request of somebody else's (RFC 9112, 6.3). */
    if (announced > patience(c) || c->unsure_end) return send_refusal(c);
    return MHD_YES;
}

static enum MHD_Result more_body(struct cot_call *c, const char *data, size_t *len)
{
    if (cot_ticks_ms() > c->deadline) return MHD_NO;
    if (c->refused.code == COT_OK && c->body.len + *len > body_limit(c)) too_large(c, &c->refused);
    if (c->refused.code == COT_OK) cot_buf_put(&c->body, data, *len);
    else c->body.len += *len; /* counted only: its bytes are not looked at any more */
    if (c->body.len > patience(c)) return MHD_NO;
    *len = 0;
    return MHD_YES;
}

static enum MHD_Result whole(struct cot_call *c)
{
    cot_watch_rests(c->conn, true);
    if (c->refused.code == COT_OK && c->body.failed) cot_fail(&c->refused, COT_MEMORY, "out of memory");
    if (c->refused.code != COT_OK) return send_refusal(c);
    if (c->route->flags & COT_ROUTE_AT_ONCE) {
        cot_call_run(c);
        return send_reply(c);
    }
    c->state = COT_CALL_WORKING;
    MHD_suspend_connection(c->conn);
    if (cot_workers_put(c->http->workers, c)) return MHD_YES;
    cot_fail(&c->refused, COT_BUSY, "too many requests are waiting");
    cot_call_refuse(c, &c->refused);
    c->state = COT_CALL_DONE;
    MHD_resume_connection(c->conn);
    return MHD_YES;
}

static void on_worker(struct cot_call *c)
{
    cot_call_run(c);
    c->state = COT_CALL_DONE;
    MHD_resume_connection(c->conn);
}

static enum MHD_Result on_access(void *ctx, struct MHD_Connection *conn, const char *url, const char *method,
                                 const char *version, const char *data, size_t *len, void **call)
{
    struct cot_call *c = *call;
    (void)ctx, (void)conn, (void)url, (void)version;
    if (!c) return MHD_NO; /* out of memory */
    switch (c->state) {
    case COT_CALL_NEW:
        return begin(c, method);
    case COT_CALL_READING:
        return *len ? more_body(c, data, len) : whole(c);
    case COT_CALL_DONE:
        return send_reply(c);
    case COT_CALL_WORKING:
    case COT_CALL_SENT:
        break;
    }
    return MHD_YES;
}

static void log_call(const struct cot_call *c)
{
    char path[120], from[INET6_ADDRSTRLEN] = "-";
    const union MHD_ConnectionInfo *i = MHD_get_connection_info(c->conn, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    if (i && i->client_addr->sa_family == AF_INET)
        inet_ntop(AF_INET, &((struct sockaddr_in *)i->client_addr)->sin_addr, from, sizeof from);
    else if (i && i->client_addr->sa_family == AF_INET6)
        inet_ntop(AF_INET6, &((struct sockaddr_in6 *)i->client_addr)->sin6_addr, from, sizeof from);
    cot_log(COT_LOG_INFO, "request", "method=%s path=%s status=%d code=%s device=%s ms=%" PRId64 " in=%zu from=%s",
            *c->method ? c->method : "-", c->path ? cot_log_value(c->path, path, sizeof path) : "-", c->status,
            cot_err_row(c->code)->name, *c->tag ? c->tag : "-", cot_ticks_ms() - c->started, c->body.len, from);
}

static void drop(struct cot_call *c)
{
    log_call(c);
    atomic_fetch_sub(&c->http->open, 1);
    cot_buf_free(&c->body);
    cot_buf_free(&c->reply);
    cot_buf_free(&c->extra);
    free(c->path);
    free(c->query);
    free(c);
}

static void on_end(void *ctx, struct MHD_Connection *conn, void **call, enum MHD_RequestTerminationCode code)
{
    struct cot_call *c = *call;
    (void)ctx, (void)code;
    if (!c) return;
    *call = NULL;
    (void)cot_watch_hold(conn, NULL);
    cot_watch_rests(conn, false);
    drop(c);
}

/* Libmicrohttpd ends a connection that has no memory left for a request's parameters or headers, and may not say that
 * the request is over. */
static void on_connection(void *ctx, struct MHD_Connection *conn, void **at, enum MHD_ConnectionNotificationCode code)
{
    struct cot_http *h = ctx;
    struct cot_call *c = code == MHD_CONNECTION_NOTIFY_CLOSED ? cot_watch_hold(conn, NULL) : NULL;
    if (c && c->state == COT_CALL_NEW) {
        c->code = COT_TOO_LARGE;
        drop(c);
    }
    cot_watch_connection(h->watch, conn, at, code);
}

__attribute__((format(printf, 2, 0))) static void on_log(void *ctx, const char *fmt, va_list args)
{
    char text[300], quoted[400];
    (void)ctx;
    vsnprintf(text, sizeof text, fmt, args);
    text[strcspn(text, "\n")] = '\0';
    cot_log(COT_LOG_INFO, "http", "msg=%s", cot_log_value(text, quoted, sizeof quoted));
}

/* "ADDR:PORT" with an address or a name, "[ADDR]:PORT" for version 6. */
static enum cot_err resolve(const char *listen, struct sockaddr_storage *out, socklen_t *len, struct cot_fault *fault)
{
    char host[256];
    const char *colon = strrchr(listen, ':');
    if (!colon || (size_t)(colon - listen) >= sizeof host)
        return cot_fail(fault, COT_USAGE, "--listen %s: not ADDRESS:PORT", listen);
    snprintf(host, sizeof host, "%.*s", (int)(colon - listen), listen);
    size_t n = strlen(host);
    bool brackets = n > 2 && host[0] == '[' && host[n - 1] == ']';
    if (brackets) host[n - 1] = '\0';
    struct addrinfo hints = {.ai_family = AF_UNSPEC,
                             .ai_socktype = SOCK_STREAM,
                             .ai_flags = AI_PASSIVE | AI_NUMERICSERV},
                    *found;
    int failed = getaddrinfo(brackets ? host + 1 : n ? host : NULL, colon + 1, &hints, &found);
    if (failed) return cot_fail(fault, COT_USAGE, "--listen %s: %s", listen, gai_strerror(failed));
    memcpy(out, found->ai_addr, found->ai_addrlen);
    *len = found->ai_addrlen;
    freeaddrinfo(found);
    return COT_OK;
}

/* Our own socket: libmicrohttpd's errors would not say what is wrong. */
static enum cot_err open_socket(const char *where, int *fd, int *port, struct cot_fault *fault)
{
    struct sockaddr_storage addr;
    socklen_t len = sizeof addr;
    int yes = 1;
    *fd = -1;
    enum cot_err err = resolve(where, &addr, &len, fault);
    if (err) return err;
    *fd = socket(addr.ss_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (*fd >= 0 && setsockopt(*fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes) == 0 &&
        bind(*fd, (struct sockaddr *)&addr, len) == 0 && listen(*fd, 256) == 0 &&
        getsockname(*fd, (struct sockaddr *)&addr, &len) == 0) {
        in_port_t p = addr.ss_family == AF_INET6 ? ((struct sockaddr_in6 *)&addr)->sin6_port
                                                 : ((struct sockaddr_in *)&addr)->sin_port;
        *port = ntohs(p);
        return COT_OK;
    }
    err = cot_fail(fault, COT_IO, "unable to listen at %s: %s", where, strerror(errno));
    if (*fd >= 0) close(*fd);
    *fd = -1;
    return err;
}

static struct MHD_Daemon *start_daemon(struct cot_http *h, int fd)
{
    const struct cot_http_options *o = &h->options;
    struct MHD_OptionItem tls[] = {
        {MHD_OPTION_HTTPS_MEM_KEY, 0, (void *)o->tls_key},
        {MHD_OPTION_HTTPS_MEM_CERT, 0, (void *)o->tls_cert},
        {MHD_OPTION_HTTPS_PRIORITIES, 0, (void *)"SECURE128:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2:%SERVER_PRECEDENCE"},
        {MHD_OPTION_END, 0, NULL},
    };
    struct MHD_OptionItem none[] = {{MHD_OPTION_END, 0, NULL}};
    unsigned flags = MHD_USE_EPOLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ERROR_LOG |
                     MHD_USE_SUPPRESS_DATE_NO_CLOCK | (o->tls_cert ? MHD_USE_TLS : 0u);
    return MHD_start_daemon(
        flags, 0, NULL, NULL, on_access, h, MHD_OPTION_EXTERNAL_LOGGER, on_log, NULL, MHD_OPTION_LISTEN_SOCKET, fd,
        MHD_OPTION_THREAD_POOL_SIZE, (unsigned)o->threads, MHD_OPTION_CONNECTION_LIMIT, (unsigned)o->connections,
        MHD_OPTION_PER_IP_CONNECTION_LIMIT, (unsigned)o->per_ip, MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)o->seconds,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)CONNECTION_MEMORY, MHD_OPTION_STRICT_FOR_CLIENT, 1,
        MHD_OPTION_URI_LOG_CALLBACK, on_uri, h, MHD_OPTION_NOTIFY_COMPLETED, on_end, h, MHD_OPTION_NOTIFY_CONNECTION,
        on_connection, h, MHD_OPTION_ARRAY, o->tls_cert ? tls : none, MHD_OPTION_END);
}

static void end(struct cot_http *h)
{
    if (h->daemon) MHD_stop_daemon(h->daemon);
    cot_workers_stop(h->workers);
    cot_watch_stop(h->watch);
    cot_replay_free(h->replay);
    cot_turns_free(h->turns);
    free(h);
}

enum cot_err cot_http_start(const struct cot_http_options *o, struct cot_books *books, struct cot_http **out, int *port,
                            struct cot_fault *fault)
{
    int fd = -1;
    struct cot_http *h = calloc(1, sizeof *h);
    *out = NULL;
    if (!h) return cot_fail(fault, COT_MEMORY, "out of memory");
    h->options = *o;
    h->books = books;
    enum cot_err err = open_socket(o->listen, &fd, port, fault);
    if (!err) {
        h->replay = cot_replay_new();
        h->turns = cot_turns_new(o->workers);
        h->watch = cot_watch_start(o->connections + o->threads, o->seconds);
        h->workers = cot_workers_start(o->workers, o->queue, on_worker);
        if (!h->replay || !h->turns || !h->watch || !h->workers)
            err = cot_fail(fault, COT_MEMORY, "unable to start the workers");
    }
    if (!err && !(h->daemon = start_daemon(h, fd)))
        err = cot_fail(fault, COT_IO, "unable to start the HTTP server%s",
                       o->tls_cert ? ": do certificate and key fit?" : "");
    if (!err) {
        *out = h;
        return COT_OK;
    }
    if (fd >= 0) close(fd);
    end(h);
    return err;
}

void cot_http_stop(struct cot_http *h)
{
    if (!h) return;
    atomic_store(&h->stopping, true);
    MHD_socket fd = MHD_quiesce_daemon(h->daemon);
    int64_t until = cot_ticks_ms() + (int64_t)h->options.seconds * 1000;
    while (atomic_load(&h->open) > 0 && cot_ticks_ms() < until) {
        struct timespec pause = {0, 5000000};
        nanosleep(&pause, NULL);
    }
    if (fd != MHD_INVALID_SOCKET) close(fd);
    end(h);
}
