/* Serving: from the database's start to its stop, with the HTTP side between. */
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "daemon.h"
#include "http.h"
#include "log.h"

/* Plain HTTP is for the same machine only. */
static enum cot_err check_plain(const struct cot_daemon *d, struct cot_fault *fault)
{
    const char *where = d->config.listen;
    bool loopback =
        strncmp(where, "127.", 4) == 0 || strncmp(where, "[::1]:", 6) == 0 || strncmp(where, "localhost:", 10) == 0;
    if (d->tls.cert || loopback || d->config.behind_proxy) return COT_OK;
    cot_fail(fault, COT_USAGE, "--listen %s: plain HTTP beyond this machine", where);
    return cot_hint(fault, "give --tls-cert and --tls-key; or say --behind-proxy when TLS is in front of it");
}

static struct cot_http_options http_options(const struct cot_daemon *d)
{
    const struct cot_config *c = &d->config;
    return (struct cot_http_options){.listen = c->listen,
                                     .tls_cert = d->tls.cert,
                                     .tls_key = d->tls.key,
                                     .threads = c->threads,
                                     .workers = c->workers,
                                     .queue = c->queue,
                                     .connections = c->connections,
                                     .per_ip = c->behind_proxy ? 0 : c->per_ip,
                                     .seconds = c->seconds,
                                     .body = (size_t)c->body_kib << 10};
}

/* Until SIGTERM or SIGINT, which were blocked before any thread began. */
static void wait_for_end(struct cot_daemon *d, const sigset_t *ends)
{
    struct timespec tick = {0, 500000000};
    struct cot_fault fault = {0};
    int got;
    while ((got = sigtimedwait(ends, NULL, &tick)) < 0)
        if (cot_cluster_tend(d->cluster, &fault) != COT_OK) cot_log_fault(COT_LOG_ERROR, "database", &fault);
    cot_log(COT_LOG_INFO, "stopping", "signal=%d", got);
}

enum cot_err cot_admin_serve(struct cot_daemon *d, struct cot_fault *fault)
{
    struct cot_http *http = NULL;
    sigset_t ends;
    int port = 0;
    sigemptyset(&ends);
    sigaddset(&ends, SIGTERM);
    sigaddset(&ends, SIGINT);
    sigprocmask(SIG_BLOCK, &ends, NULL);
    enum cot_err err = check_plain(d, fault);
    struct cot_http_options o = http_options(d);
    if (!err) err = cot_http_start(&o, d->books, &http, &port, fault);
    if (err) return err;
    cot_log(COT_LOG_INFO, "serving", "listen=%s port=%d tls=%s version=%s pid=%d", d->config.listen, port,
            d->tls.cert ? "yes" : "no", COT_VERSION, (int)getpid());
    wait_for_end(d, &ends);
    cot_http_stop(http);
    cot_log(COT_LOG_INFO, "stopped", "requests=finished");
    return COT_OK;
}
