/* One request on its way: read by libmicrohttpd's threads, answered by a worker, sent by libmicrohttpd again. */
#ifndef COTYLEDGER_HTTP_CALL_H
#define COTYLEDGER_HTTP_CALL_H

#include <microhttpd.h>

#include "http.h"

#define COT_HEADER_BYTES 16384
#define COT_JSON_BYTES 8192

struct cot_call;
enum {
    COT_ROUTE_SIGNED = 1,
    COT_ROUTE_AT_ONCE = 2, /* answered without a worker */
    COT_ROUTE_LONG = 4     /* signed, and one at a time of a device: BUSY while it has another */
};
struct cot_route {
    const char *method, *path;
    unsigned flags;
    size_t body;        /* bytes allowed; 0: the configured size of a page */
    const char *type;   /* content type required; NULL: any */
    const char *params; /* query parameters allowed, separated by blanks */
    enum cot_err (*run)(struct cot_call *c, struct cot_fault *fault);
};
extern const struct cot_route cot_routes[]; /* ended by a NULL method */
/* NULL when there is none. */
const struct cot_route *cot_route_find(const char *method, const char *path);

enum cot_call_header { COT_H_HOUSE, COT_H_TYPE, COT_H_DIGEST, COT_H_INPUT, COT_H_SIGNATURE, COT_H_COUNT };

struct cot_call {
    struct cot_http *http;
    struct MHD_Connection *conn;
    struct cot_call *next; /* in the queue */
    const struct cot_route *route;
    char method[8];
    char *path, *query; /* as sent; the query without '?' */
    const char *header[COT_H_COUNT];
    bool unsure_end; /* more than one header says where the body ends */
    struct cot_buf body;
    int64_t started, deadline;
    enum { COT_CALL_NEW, COT_CALL_READING, COT_CALL_WORKING, COT_CALL_DONE, COT_CALL_SENT } state;
    struct cot_fault refused; /* why it is not to be answered as asked; code COT_OK: nothing against it */
    /* Who asks, of signed routes, once verified. */
    struct cot_house_id house;
    char tag[COT_TAG_MAX + 1];
    struct cot_id key;
    /* The answer. */
    int status;
    const char *type;
    struct cot_buf reply;
    struct cot_buf extra; /* members of a problem, beside the usual */
    enum cot_err code;
};

struct cot_http {
    struct MHD_Daemon *daemon;
    struct cot_books *books;
    struct cot_http_options options;
    struct cot_replay *replay;
    struct cot_turns *turns;
    struct cot_workers *workers;
    struct cot_watch *watch;
    _Atomic int open; /* requests read, running or being sent */
    _Atomic bool stopping;
};

/* Runs the route and fills the answer, whatever happens. */
void cot_call_run(struct cot_call *c);
/* Fills the answer with a problem. */
void cot_call_refuse(struct cot_call *c, struct cot_fault *fault);

/* Authentication: reads the headers, finds the key, verifies. Fills house, tag, key. */
COT_MUSTCHECK enum cot_err cot_call_authenticate(struct cot_call *c, struct cot_fault *fault);
/* The house named by the header, of routes that are not signed too. */
COT_MUSTCHECK enum cot_err cot_call_house(struct cot_call *c, struct cot_fault *fault);
/* A session of the asker on its house; cot_session_close in any case. */
COT_MUSTCHECK enum cot_err cot_call_session(struct cot_call *c, struct cot_session *s, struct cot_fault *fault);

/* Query parameters. Absent: `found` false (may be NULL when `out` has a default). MALFORMED. */
COT_MUSTCHECK enum cot_err cot_call_check_query(const struct cot_call *c, struct cot_fault *fault);
bool cot_call_query(const struct cot_call *c, const char *name, const char **value, size_t *len);
COT_MUSTCHECK enum cot_err cot_call_query_int(const struct cot_call *c, const char *name, int64_t lo, int64_t hi,
                                              int64_t *out, struct cot_fault *fault);

/* Members of a JSON body: an object with text or integer members and no others. */
struct cot_member {
    const char *name;
    enum { COT_M_TEXT, COT_M_INT } type;
    bool required;
    char *text;
    size_t cap;      /* TEXT: where it goes */
    int64_t *number; /* INT */
};
COT_MUSTCHECK enum cot_err cot_call_json(const struct cot_call *c, const struct cot_member *m, size_t n,
                                         struct cot_fault *fault);

/* The resources. */
enum cot_err cot_res_health(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_ready(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_join(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_rejoin(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_invitations(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_pages(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_ledger(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_head(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_chain(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_book(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_fill(struct cot_call *c, struct cot_fault *fault);
enum cot_err cot_res_what_if(struct cot_call *c, struct cot_fault *fault);

#endif
