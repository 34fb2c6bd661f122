/* A cotyld of the test's own, and devices that talk to it: on a scratch directory, a free port, a real PostgreSQL. */
#ifndef COTYLEDGER_TESTS_HARNESS_H
#define COTYLEDGER_TESTS_HARNESS_H

#include <sys/types.h>

#include "cotyledger/wire/entry.h"
#include "cotyledger/wire/request.h"

struct cot_server {
    char scratch[64]; /* made by the harness, removed by cot_server_remove */
    char data[80];    /* --data */
    char log[80];     /* what cotyld says */
    pid_t pid;        /* 0: not running */
    int port;
    bool tls;
};
/* A scratch directory; nothing runs yet. */
void cot_server_make(struct cot_server *s);
/* Starts cotyld on it with more arguments (ended by NULL; the list may be NULL; a port of the test's choice comes
 * first, as
 * "--listen", "127.0.0.1:PORT") and waits until it serves. False when it ended
 * instead; *status (may be NULL) receives its exit status. */
bool cot_server_start(struct cot_server *s, const char *const *more, int *status);
/* The same on a database that is there already (a copy of `s` that shares its scratch directory). */
bool cot_server_start_on(struct cot_server *s, const char *database);
/* Ends it with a signal and waits; the exit status, or -signal. */
int cot_server_stop(struct cot_server *s, int signal);
/* Stops what runs and removes the scratch directory. */
void cot_server_remove(struct cot_server *s);
/* Runs `cotyld --data DIR ARGS`; the exit status. Standard output goes to *out (may be NULL; the caller frees). */
int cot_server_command(struct cot_server *s, char **out, const char *const *args);
#define COT_ARGS(...) ((const char *const[]){__VA_ARGS__, NULL})
/* The whole log so far; the caller frees. */
char *cot_server_log(const struct cot_server *s);
/* A conninfo for raw SQL as a role. Connect between cot_as_user(s, true) and (s, false): the database knows this
 * system's users by name, and the tests may run as root. */
void cot_server_conninfo(const struct cot_server *s, const char *role, char *out, size_t len);
void cot_as_user(const struct cot_server *s, bool begin);

struct cot_reply {
    int status;
    char type[80];
    char *body;
    size_t len;
};
void cot_reply_free(struct cot_reply *r);
enum cot_err cot_reply_code(const struct cot_reply *r); /* of a problem document; COT_OK for 200 */

struct cot_http_header {
    const char *name, *value;
};
/* One HTTP request on a connection of its own. False when there was no answer. */
bool cot_http_call(const struct cot_server *s, const char *method, const char *target,
                   const struct cot_http_header *headers, size_t n, const void *body, size_t len,
                   struct cot_reply *out);

/* A device as its laptop would know itself. */
struct cot_device {
    const struct cot_server *server;
    struct cot_house_id house;
    struct cot_id house_key, member, farm;
    enum cot_part part;
    char tag[COT_TAG_MAX + 1];
    struct cot_keypair key;
    int64_t joined;      /* position of its entry */
    int64_t number;      /* entries made */
    struct cot_id chain; /* h(number) */
    int64_t clock_off;   /* ms to add to its clock */
};
/* A house and its first manager's device. */
void cot_found(struct cot_server *s, const char *name, struct cot_device *manager);
/* Joins by an invitation's line; the reply (may be NULL) is the caller's to free. False when refused. */
bool cot_device_join(const struct cot_server *s, const char *invitation, struct cot_device *out,
                     struct cot_reply *reply);
/* A manager makes a member (a buyer of `farm` if given) and a device of that member joins. */
void cot_device_invite(struct cot_device *manager, const char *name, enum cot_part part, const struct cot_id *farm,
                       struct cot_device *out);

/* A signed request. `type` NULL: the usual one for the method and path. */
bool cot_signed_call(const struct cot_device *d, const char *method, const char *path, const char *query,
                     const char *type, const void *body, size_t len, struct cot_reply *out);
/* The same, `change` may spoil what was signed before it is sent. */
struct cot_signed {
    char *method, *path, *query, *type, *house, *digest, *input, *signature;
};
bool cot_signed_call_changed(const struct cot_device *d, const char *method, const char *path, const char *query,
                             const char *type, const void *body, size_t len,
                             void (*change)(struct cot_signed *s, void *ctx), void *ctx, struct cot_reply *out);

/* A page being made: entries of the device from its head on. */
struct cot_draft {
    struct cot_device *device;
    struct cot_id before;
    int64_t first;
    struct cot_buf lines;
    struct cot_id last; /* digest of the entry added last */
};
void cot_draft_start(struct cot_draft *p, struct cot_device *d);
/* Fills the header of the fact and adds it; returns its digest. */
struct cot_id cot_draft_add(struct cot_draft *p, struct cot_fact *f);
/* The page's bytes (the caller frees); the draft is over. */
void cot_draft_end(struct cot_draft *p, struct cot_buf *page);
bool cot_send(const struct cot_device *d, const struct cot_buf *page, struct cot_reply *out);
/* Draft with one fact, sent, must be accepted; its digest. */
struct cot_id cot_device_write(struct cot_device *d, struct cot_fact *f);

/* Facts. Text is borrowed. */
struct cot_fact cot_fact_named(enum cot_kind kind, const char *name);
struct cot_fact cot_fact_note(const char *text);
struct cot_fact cot_fact_line(const struct cot_device *d, int64_t number, const struct cot_id *farm,
                              const struct cot_id *variety, int64_t plants, const char *day);

/* Members of JSON answers. */
int64_t cot_json_int(const char *json, size_t len, const char *name); /* fails the test when absent */
bool cot_json_text(const char *json, size_t len, const char *name, char *out, size_t out_len);

#endif
