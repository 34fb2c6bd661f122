/* What every command of cotyld works with: the database reached, as the run-time role, and the books on it. */
#ifndef COTYLD_DAEMON_H
#define COTYLD_DAEMON_H

#include "books.h"
#include "cluster.h"
#include "config.h"
#include "tls.h"

struct cot_daemon {
    struct cot_config config;
    struct cot_tls tls;
    struct cot_cluster *cluster; /* NULL with --database */
    const char *conninfo;
    const char *owner, *run; /* roles */
    struct cot_store *store; /* as the run-time role */
    struct cot_books *books;
};
/* Reads the certificate, gives up root, starts or finds the database, brings its schema up to date, looks whether it
 * keeps what it is told. `serving`: this is the one that serves. Close with cot_daemon_close, after an error too. */
COT_MUSTCHECK enum cot_err cot_daemon_open(struct cot_daemon *d, bool serving, struct cot_fault *fault);
void cot_daemon_close(struct cot_daemon *d);
/* A pool as the owner's role; the caller closes. */
COT_MUSTCHECK enum cot_err cot_daemon_owner(struct cot_daemon *d, struct cot_store **out, struct cot_fault *fault);

/* One command. */
struct cot_admin {
    const char *name, *args, *what;
    int words; /* after the name */
    enum cot_err (*run)(struct cot_daemon *d, struct cot_fault *fault);
};
extern const struct cot_admin cot_admins[]; /* ended by a NULL name */

enum cot_err cot_admin_serve(struct cot_daemon *d, struct cot_fault *fault);
enum cot_err cot_admin_new_house(struct cot_daemon *d, struct cot_fault *fault);
enum cot_err cot_admin_invite_manager(struct cot_daemon *d, struct cot_fault *fault);
enum cot_err cot_admin_houses(struct cot_daemon *d, struct cot_fault *fault);
enum cot_err cot_admin_verify(struct cot_daemon *d, struct cot_fault *fault);
enum cot_err cot_admin_fill(struct cot_daemon *d, struct cot_fault *fault);
enum cot_err cot_admin_book(struct cot_daemon *d, struct cot_fault *fault);
enum cot_err cot_admin_restored(struct cot_daemon *d, struct cot_fault *fault);

/* All houses, in order of id; the caller frees. */
COT_MUSTCHECK enum cot_err cot_daemon_houses(struct cot_daemon *d, struct cot_house_id **out, size_t *n,
                                             struct cot_fault *fault);
/* The house that --house names by id or name, or the only one there is. */
COT_MUSTCHECK enum cot_err cot_daemon_house(struct cot_daemon *d, struct cot_house_id *out, struct cot_fault *fault);
int64_t cot_daemon_deadline(void); /* of one step of a command */

#endif
