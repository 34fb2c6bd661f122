#include "daemon.h"

#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <netdb.h>

#include "log.h"
#include "priv.h"

#define OWNER "cotyledger_owner"
#define RUN "cotyledger_run"

int64_t cot_daemon_deadline(void)
{
    return cot_ticks_ms() + 600000;
}

static enum cot_err check_config(const struct cot_config *c, struct cot_fault *fault)
{
    if (!c->data == !c->database) {
        cot_fail(fault, COT_USAGE, c->data ? "--data and --database exclude each other" : "where is the data?");
        return cot_hint(fault,
                        "--data DIR keeps everything in one directory; --database URL uses a PostgreSQL that is there");
    }
    static const char *const levels[] = {"error", "warn", "info"};
    for (int i = 0; i < 3; i++) {
        if (strcmp(c->log, levels[i]) != 0) continue;
        cot_log_level((enum cot_level)i);
        return COT_OK;
    }
    return cot_fail(fault, COT_USAGE, "--log %s: must be error, warn or info", c->log);
}

static enum cot_err reach(struct cot_daemon *d, bool serving, struct cot_fault *fault)
{
    d->owner = OWNER;
    d->run = RUN;
    if (d->config.database) {
        d->conninfo = d->config.database;
        return COT_OK;
    }
    enum cot_err err = cot_cluster_start(d->config.data, !serving, &d->cluster, fault);
    if (!err) d->conninfo = cot_cluster_conninfo(d->cluster);
    return err;
}

enum cot_err cot_daemon_open(struct cot_daemon *d, bool serving, struct cot_fault *fault)
{
    enum cot_err err = check_config(&d->config, fault);
    if (!err) err = cot_tls_read(d->config.tls_cert, d->config.tls_key, &d->tls, fault);
    if (!err) err = cot_drop_root(d->config.user, d->config.data, fault);
    if (!err) err = reach(d, serving, fault);
    if (!err) err = cot_store_migrate(d->conninfo, d->owner, fault);
    struct cot_store_options o = {.conninfo = d->conninfo,
                                  .user = d->run,
                                  .connections = serving ? d->config.workers : 2,
                                  .prepared = !d->config.no_prepared};
    if (!err) err = cot_store_open(&o, &d->store, fault);
    if (!err) err = cot_store_ready(d->store, cot_ticks_ms() + 30000, fault);
    if (!err && !(d->books = cot_books_new(d->store, (size_t)d->config.books_mib << 20)))
        err = cot_fail(fault, COT_MEMORY, "out of memory");
    return err;
}

void cot_daemon_close(struct cot_daemon *d)
{
    cot_books_free(d->books);
    cot_store_close(d->store);
    cot_cluster_stop(d->cluster);
    cot_tls_free(&d->tls);
    cot_config_free(&d->config);
    memset(d, 0, sizeof *d);
}

enum cot_err cot_daemon_owner(struct cot_daemon *d, struct cot_store **out, struct cot_fault *fault)
{
    struct cot_store_options o = {.conninfo = d->conninfo, .user = d->owner, .connections = 1};
    return cot_store_open(&o, out, fault);
}

enum cot_err cot_daemon_houses(struct cot_daemon *d, struct cot_house_id **out, size_t *n, struct cot_fault *fault)
{
    struct cot_store *owner = NULL;
    struct cot_tx *tx = NULL;
    *out = NULL;
    *n = 0;
    enum cot_err err = cot_daemon_owner(d, &owner, fault);
    if (!err) err = cot_tx_begin(owner, NULL, NULL, cot_daemon_deadline(), &tx, fault);
    if (!err) err = cot_ask_houses(tx, out, n, fault);
    cot_tx_end(tx);
    cot_store_close(owner);
    return err;
}

/* By its name in the book, exactly. */
static enum cot_err by_name(struct cot_daemon *d, const char *name, const struct cot_house_id *all, size_t n,
                            struct cot_house_id *out, struct cot_fault *fault)
{
    size_t found = 0;
    enum cot_err err = COT_OK;
    for (size_t i = 0; !err && i < n; i++) {
        struct cot_session s;
        err = cot_session_open(d->books, &all[i], NULL, cot_daemon_deadline(), &s, fault);
        const struct cot_thing *t = err ? NULL : cot_book_house(cot_session_book(&s));
        if (t && strcmp(cot_thing_name(t), name) == 0) {
            *out = all[i];
            found++;
        }
        cot_session_close(&s);
    }
    if (err || found == 1) return err;
    cot_fail(fault, found ? COT_AMBIGUOUS : COT_NOT_FOUND,
             found ? "%s: several houses have this name" : "%s: there is no such house", name);
    return cot_hint(fault, "cotyld houses lists them");
}

enum cot_err cot_daemon_house(struct cot_daemon *d, struct cot_house_id *out, struct cot_fault *fault)
{
    const char *said = d->config.house;
    struct cot_house_id *all, id;
    size_t n;
    enum cot_err err = cot_daemon_houses(d, &all, &n, fault);
    if (err) return err;
    bool is_id = said && cot_house_parse(said, strlen(said), &id), found = false;
    for (size_t i = 0; is_id && !found && i < n; i++) found = memcmp(all[i].b, id.b, sizeof id.b) == 0;
    if (!said && n == 1) *out = all[0];
    else if (!said) err = cot_fail(fault, COT_USAGE, n ? "which house? --house names it" : "there is no house yet");
    else if (found) *out = id;
    else err = by_name(d, said, all, n, out, fault);
    free(all);
    return err;
}
