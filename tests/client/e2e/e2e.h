/* Laptops and a real server: commands are run as people run them, by the program itself. */
#ifndef COT_CLIENT_E2E_H
#define COT_CLIENT_E2E_H

#include <pthread.h>

#include "harness.h"

struct laptop {
    char dir[120];
    int number;
    char *out, *err; /* of the last command; theirs who keep them here */
};

/* A server that serves, once for a test file; every test founds houses of its own on it. */
extern struct cot_server e2e_server;
void e2e_start(void);
void e2e_stop(void);
/* Stops it, lets `between` (may be NULL) do something to its data, and serves again on the same port. */
void e2e_restart(void (*between)(void *ctx), void *ctx);

/* A new house whose manager's laptop has joined and has a crop, a format, a variety and a lot. `url` NULL: the server's
 * own. */
void e2e_house(struct laptop *manager, char house[static 23], const char *url);
/* A folder that is no laptop yet, removed at the end with everything. */
void e2e_laptop(struct laptop *l);
/* Invites with `invite LINE` and joins. */
void e2e_join(struct laptop *manager, struct laptop *l, const char *line);
/* An exact copy of the folder, as a backup tool makes it. */
void e2e_copy(const struct laptop *from, struct laptop *to);

/* Runs `cotyl LINE` (words parted by blanks, "..." for words with blanks in them); its exit code, or -signal. */
int e2e_run(struct laptop *l, const char *line);
/* Fails the test unless it exits with 0; returns its standard output. */
const char *e2e_must(struct laptop *l, const char *line);
/* Fails the test unless it exits with the code of `err` and says `words` on standard error (line breaks count as
 * blanks). */
void e2e_refused(struct laptop *l, const char *line, enum cot_err err, const char *words);
/* Environment of the commands that follow; value NULL: none. */
void e2e_env(const char *name, const char *value);

/* All laptops, when nothing waits on them, and the server come to the same book. */
void e2e_same_book(const char *house, struct laptop **l, size_t n);
/* A member of `status --json`. */
int64_t e2e_status_int(struct laptop *l, const char *member);
void e2e_status_text(struct laptop *l, const char *member, char *out, size_t len);

/* A door between laptops and server. It passes connections on, except for what it is told to spoil. */
struct e2e_door {
    int port;
    int fd;
    pthread_t thread;
    volatile int lose_answers;    /* so many answers are dropped after the server has given them */
    volatile long cut_answers_at; /* bytes of each answer that pass; 0: all */
    const char *volatile spoil;   /* the character after this text in an answer becomes another; NULL: none */
    volatile long dropped;        /* answers spoilt so far */
};
void e2e_door_open(struct e2e_door *d);
void e2e_door_close(struct e2e_door *d);

#endif
