#include "cluster.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "cluster_make.h"
#include "log.h"
#include "process.h"
#include "store.h"

#define LOG_MOST (8 << 20)
#define READY_MS 60000
#define PORT "5432"

struct cot_cluster {
    char dir[COT_PATH_MOST], bin[COT_PATH_MOST], sockets[COT_PATH_MOST];
    char conninfo[COT_PATH_MOST + 200];
    int lock;  /* DIR/lock, held; -1: another program holds it */
    pid_t pid; /* of the postmaster that is our child */
};

static void pause_ms(long ms)
{
    struct timespec t = {ms / 1000, ms % 1000 * 1000000};
    nanosleep(&t, NULL);
}

static void path_in(const struct cot_cluster *c, const char *name, char out[static COT_PATH_MOST + 64])
{
    snprintf(out, COT_PATH_MOST + 64, "%s/%s", c->dir, name);
}

const char *cot_cluster_conninfo(const struct cot_cluster *c)
{
    return c->conninfo;
}

/* Values of a conninfo stand in single quotes, with quotes and backslashes escaped. */
static void make_conninfo(struct cot_cluster *c)
{
    char host[COT_PATH_MOST * 2];
    size_t n = 0;
    for (const char *p = c->sockets; *p; p++) {
        if (*p == '\'' || *p == '\\') host[n++] = '\\';
        host[n++] = *p;
    }
    host[n] = '\0';
    snprintf(c->conninfo, sizeof c->conninfo, "host='%.*s' port=" PORT " dbname=cotyledger", COT_PATH_MOST, host);
}

/* A socket's path must fit the system's structure; when DIR is too long they go to a short place of their own. */
static enum cot_err choose_sockets(struct cot_cluster *c, struct cot_fault *fault)
{
    char note[COT_PATH_MOST + 64];
    struct sockaddr_un un;
    path_in(c, "socket", note);
    snprintf(c->sockets, sizeof c->sockets, "%.*s/s", COT_PATH_MOST - 3, c->dir);
    if (strlen(c->sockets) + strlen("/.s.PGSQL." PORT) < sizeof un.sun_path) {
        unlink(note);
        if (mkdir(c->sockets, 0700) == 0 || errno == EEXIST) return COT_OK;
        return cot_fail(fault, COT_IO, "unable to make %s: %s", c->sockets, strerror(errno));
    }
    const char *runtime = getenv("XDG_RUNTIME_DIR");
    if (!runtime || strlen(runtime) > 60 || access(runtime, W_OK) != 0) runtime = "/tmp";
    snprintf(c->sockets, sizeof c->sockets, "%s/cotyld-XXXXXX", runtime);
    if (!mkdtemp(c->sockets)) return cot_fail(fault, COT_IO, "unable to make %s: %s", c->sockets, strerror(errno));
    return cot_write_file(note, c->sockets, fault);
}

/* Where the program that holds the lock has put them. */
static void find_sockets(struct cot_cluster *c)
{
    char note[COT_PATH_MOST + 64];
    path_in(c, "socket", note);
    snprintf(c->sockets, sizeof c->sockets, "%.*s/s", COT_PATH_MOST - 3, c->dir);
    FILE *f = fopen(note, "re");
    if (!f) return;
    if (!fgets(c->sockets, sizeof c->sockets, f)) *c->sockets = '\0';
    fclose(f);
}

/* The postmaster that serves DIR/pg, whoever started it; 0: none. */
static pid_t postmaster(const struct cot_cluster *c)
{
    char path[COT_PATH_MOST + 64], line[32] = "", link[64], cwd[PATH_MAX], pg[PATH_MAX];
    path_in(c, "pg/postmaster.pid", path);
    FILE *f = fopen(path, "re");
    if (!f) return 0;
    bool got = fgets(line, sizeof line, f) != NULL;
    fclose(f);
    pid_t pid = got ? atoi(line) : 0;
    if (pid <= 1 || kill(pid, 0) != 0) return 0;
    /* A number may have been given to another process since: a postmaster's working directory is its cluster. */
    snprintf(link, sizeof link, "/proc/%d/cwd", (int)pid);
    ssize_t n = readlink(link, cwd, sizeof cwd - 1);
    path_in(c, "pg", path);
    if (n <= 0 || !realpath(path, pg)) return 0;
    cwd[n] = '\0';
    return strcmp(cwd, pg) == 0 ? pid : 0;
}

static bool gone(pid_t pid, int64_t ms)
{
    int64_t until = cot_ticks_ms() + ms;
    while (kill(pid, 0) == 0) {
        waitpid(pid, NULL, WNOHANG); /* when it is our own child */
        if (cot_ticks_ms() > until) return false;
        pause_ms(20);
    }
    return true;
}

/* Fast shutdown, then the immediate one: both keep all that was committed. */
static bool end_postmaster(pid_t pid)
{
    kill(pid, SIGINT);
    if (gone(pid, 30000)) return true;
    kill(pid, SIGQUIT);
    return gone(pid, 10000);
}

static void turn_log(const struct cot_cluster *c)
{
    char log[COT_PATH_MOST + 64], old[COT_PATH_MOST + 64];
    struct stat st;
    path_in(c, "postgres.log", log);
    path_in(c, "postgres.log.1", old);
    if (stat(log, &st) == 0 && st.st_size > LOG_MOST) rename(log, old);
}

static enum cot_err launch(struct cot_cluster *c, struct cot_fault *fault)
{
    char program[COT_PATH_MOST + 64], pg[COT_PATH_MOST + 64], log[COT_PATH_MOST + 64];
    snprintf(program, sizeof program, "%s/postgres", c->bin);
    path_in(c, "pg", pg);
    path_in(c, "postgres.log", log);
    turn_log(c);
    char *argv[] = {program,
                    "-D",
                    pg,
                    "-k",
                    c->sockets,
                    "-p",
                    PORT,
                    "-c",
                    "listen_addresses=",
                    "-c",
                    "unix_socket_permissions=0700",
                    NULL};
    c->pid = cot_process_start(argv, log, NULL, SIGINT);
    return c->pid > 0 ? COT_OK : cot_fail(fault, COT_IO, "unable to start %s: %s", program, strerror(errno));
}

/* True when the child has ended. */
static bool ended(struct cot_cluster *c)
{
    if (c->pid <= 0 || waitpid(c->pid, NULL, WNOHANG) == 0) return false;
    c->pid = 0;
    return true;
}

/* A postmaster that was killed may leave processes that need a moment to notice: until then a new one ends at once. */
static enum cot_err bring_up(struct cot_cluster *c, struct cot_fault *fault)
{
    int64_t until = cot_ticks_ms() + READY_MS;
    int tries = 0;
    enum cot_err err = launch(c, fault);
    while (!err && !cot_store_answers(c->conninfo)) {
        if (cot_ticks_ms() > until) {
            err = cot_fail(fault, COT_BUSY, "PostgreSQL does not come up");
        } else if (ended(c)) {
            if (++tries == 20) err = cot_fail(fault, COT_IO, "PostgreSQL does not start");
            else pause_ms(500);
            if (!err) err = launch(c, fault);
        }
        pause_ms(20);
    }
    if (!err) return COT_OK;
    if (c->pid > 0) end_postmaster(c->pid);
    c->pid = 0;
    return cot_hint(fault, "%s/postgres.log says why", c->dir);
}

static enum cot_err take_over(struct cot_cluster *c, struct cot_fault *fault)
{
    char pg[COT_PATH_MOST + 64];
    path_in(c, "pg", pg);
    pid_t old = postmaster(c);
    if (old && !end_postmaster(old))
        return cot_fail(fault, COT_BUSY, "the PostgreSQL that runs in %s (process %d) does not stop", pg, (int)old);
    enum cot_err err = cot_cluster_programs(c->dir, c->bin, fault);
    if (!err && access(pg, F_OK) != 0) {
        cot_log(COT_LOG_INFO, "making", "what=cluster bin=%s", c->bin);
        err = cot_cluster_make(c->dir, c->bin, fault);
    }
    if (!err) err = cot_cluster_write_access(c->dir, fault);
    if (!err) err = choose_sockets(c, fault);
    if (err) return err;
    make_conninfo(c);
    return bring_up(c, fault);
}

static enum cot_err join_running(struct cot_cluster *c, struct cot_fault *fault)
{
    int64_t until = cot_ticks_ms() + READY_MS;
    do {
        find_sockets(c);
        make_conninfo(c);
        if (cot_store_answers(c->conninfo)) return COT_OK;
        if (flock(c->lock, LOCK_EX | LOCK_NB) == 0) return take_over(c, fault); /* the other one has ended meanwhile */
        pause_ms(100);
    } while (cot_ticks_ms() < until);
    return cot_fail(fault, COT_BUSY, "another cotyld holds %s, but its PostgreSQL does not answer", c->dir);
}

/* Whoever starts to serve waits a little: a command may hold the lock for a moment. */
static enum cot_err lock(struct cot_cluster *c, bool join, bool *held, struct cot_fault *fault)
{
    char path[COT_PATH_MOST + 64];
    path_in(c, "lock", path);
    c->lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    if (c->lock < 0) return cot_fail(fault, COT_IO, "unable to open %s: %s", path, strerror(errno));
    int64_t until = cot_ticks_ms() + (join ? 0 : 10000);
    while (!(*held = flock(c->lock, LOCK_EX | LOCK_NB) == 0) && cot_ticks_ms() < until) pause_ms(50);
    if (*held || join) return COT_OK;
    return cot_fail(fault, COT_BUSY, "another cotyld runs in %s", c->dir);
}

enum cot_err cot_cluster_start(const char *dir, bool join, struct cot_cluster **out, struct cot_fault *fault)
{
    struct cot_cluster *c = calloc(1, sizeof *c);
    char whole[PATH_MAX];
    bool held = false;
    *out = NULL;
    if (!c) return cot_fail(fault, COT_MEMORY, "out of memory");
    c->lock = -1;
    enum cot_err err = COT_OK;
    if (!realpath(dir, whole)) err = cot_fail(fault, COT_IO, "%s: %s", dir, strerror(errno));
    else if (strlen(whole) > COT_PATH_MOST - 64) err = cot_fail(fault, COT_IO, "%s: the path is too long", dir);
    else snprintf(c->dir, sizeof c->dir, "%.*s", COT_PATH_MOST - 64, whole);
    if (!err) err = lock(c, join, &held, fault);
    if (!err) err = held ? take_over(c, fault) : join_running(c, fault);
    if (!err) *out = c;
    else cot_cluster_stop(c);
    return err;
}

enum cot_err cot_cluster_tend(struct cot_cluster *c, struct cot_fault *fault)
{
    if (!c || c->pid <= 0 || !ended(c)) return COT_OK;
    cot_log(COT_LOG_ERROR, "database", "msg=\"PostgreSQL has ended; starting it again\"");
    return bring_up(c, fault);
}

void cot_cluster_stop(struct cot_cluster *c)
{
    char note[COT_PATH_MOST + 64];
    if (!c) return;
    if (c->pid > 0) {
        if (!end_postmaster(c->pid))
            cot_log(COT_LOG_ERROR, "database", "msg=\"PostgreSQL does not stop\" pid=%d", (int)c->pid);
        path_in(c, "socket", note);
        if (access(note, F_OK) == 0) rmdir(c->sockets);
    }
    if (c->lock >= 0) close(c->lock);
    free(c);
}
