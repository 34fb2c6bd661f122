#include "cluster_make.h"

#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <glob.h>
#include <pwd.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "process.h"

enum cot_err cot_write_file(const char *path, const char *text, struct cot_fault *fault)
{
    char next[COT_PATH_MOST + 8];
    snprintf(next, sizeof next, "%s.new", path);
    int fd = open(next, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    size_t len = strlen(text);
    bool good = fd >= 0 && write(fd, text, len) == (ssize_t)len && fsync(fd) == 0;
    if (fd >= 0) good = close(fd) == 0 && good;
    if (good && rename(next, path) == 0) return COT_OK;
    return cot_fail(fault, COT_IO, "unable to write %s: %s", path, strerror(errno));
}

/* Major version of the programs in `bin`; 0: there are none. */
static int version_of(const char *bin)
{
    char postgres[COT_PATH_MOST + 16], line[128];
    snprintf(postgres, sizeof postgres, "%s/postgres", bin);
    char *argv[] = {postgres, "--version", NULL};
    if (access(postgres, X_OK) != 0 || cot_process_line(argv, line, sizeof line) != 0) return 0;
    const char *digits = strpbrk(line, "0123456789");
    return digits ? atoi(digits) : 0;
}

/* Major version that the cluster was made with; 0: there is none yet. */
static int version_made(const char *dir)
{
    char path[COT_PATH_MOST + 16], line[32] = "";
    snprintf(path, sizeof path, "%s/pg/PG_VERSION", dir);
    FILE *f = fopen(path, "re");
    if (!f) return 0;
    if (!fgets(line, sizeof line, f)) *line = '\0';
    fclose(f);
    return atoi(line);
}

static void offer(const char *candidate, int wanted, int *best, char *bin)
{
    int version = version_of(candidate);
    if (version < 15 || version <= *best || (wanted && version != wanted)) return;
    *best = version;
    snprintf(bin, COT_PATH_MOST, "%s", candidate);
}

enum cot_err cot_cluster_programs(const char *dir, char bin[static COT_PATH_MOST], struct cot_fault *fault)
{
    int wanted = version_made(dir), best = 0;
    char line[COT_PATH_MOST];
    char *argv[] = {"/usr/bin/pg_config", "--bindir", NULL};
    if (cot_process_line(argv, line, sizeof line) == 0) offer(line, wanted, &best, bin);
    glob_t found;
    if (glob("/usr/lib/postgresql/*/bin", 0, NULL, &found) == 0) {
        for (size_t i = 0; i < found.gl_pathc; i++) offer(found.gl_pathv[i], wanted, &best, bin);
        globfree(&found);
    }
    if (best) return COT_OK;
    if (wanted) cot_fail(fault, COT_IO, "%s was made by PostgreSQL %d, which is not installed", dir, wanted);
    else cot_fail(fault, COT_IO, "PostgreSQL 15 or newer is not installed");
    return cot_hint(fault, "install it, or name a database with --database");
}

static int remove_one(const char *path, const struct stat *st, int type, struct FTW *ftw)
{
    (void)st, (void)type, (void)ftw;
    return remove(path);
}

/* Settings to begin with; whoever runs the house may change them in DIR/pg/postgresql.conf. */
static const char settings[] =
    "\n# Written by cotyld when it made this cluster; change what you like, but keep fsync, full_page_writes\n"
    "# and synchronous_commit on: cotyld refuses to run without.\n"
    "max_connections = 100\n"
    "shared_buffers = 64MB\n"
    "jit = off\n"
    "log_min_messages = warning\n"
    "log_line_prefix = '%m [%p] '\n"
    "timezone = 'UTC'\n"
    "log_timezone = 'UTC'\n";

/* The roles that exist; the superuser of initdb can never come in: no line of pg_hba.conf and no map lets it. */
static const char roles[] = "create role cotyledger_owner login\n"
                            "create role cotyledger_run login\n"
                            "create role cotyledger_backup login replication bypassrls\n"
                            "grant pg_read_all_data to cotyledger_backup\n"
                            "create database cotyledger owner cotyledger_owner\n";

static const char tidy[] = "revoke all on database cotyledger from public\n"
                           "grant connect on database cotyledger to cotyledger_run, cotyledger_backup\n"
                           "alter schema public owner to cotyledger_owner\n"
                           "revoke create on schema public from public\n";

/* The server's single-user mode: no socket, no other sessions. */
static int single(const char *bin, char *pg, char *database, const char *log, const char *sql)
{
    char program[COT_PATH_MOST + 16];
    snprintf(program, sizeof program, "%s/postgres", bin);
    char *argv[] = {program, "--single", "-F", "-D", pg, database, NULL}; /* synced with the rest, later */
    return cot_process_run(argv, log, sql);
}

static enum cot_err append_settings(const char *pg, struct cot_fault *fault)
{
    char path[COT_PATH_MOST + 64];
    snprintf(path, sizeof path, "%s/postgresql.conf", pg);
    FILE *f = fopen(path, "ae");
    bool good = f && fputs(settings, f) >= 0;
    if (f) good = fclose(f) == 0 && good;
    return good ? COT_OK : cot_fail(fault, COT_IO, "unable to write %s", path);
}

enum cot_err cot_cluster_make(const char *dir, const char *bin, struct cot_fault *fault)
{
    char pg[COT_PATH_MOST + 16], made[COT_PATH_MOST + 16], log[COT_PATH_MOST + 16], program[COT_PATH_MOST + 16];
    snprintf(pg, sizeof pg, "%s/pg.new", dir);
    snprintf(made, sizeof made, "%s/pg", dir);
    snprintf(log, sizeof log, "%s/postgres.log", dir);
    snprintf(program, sizeof program, "%s/initdb", bin);
    if (access(pg, F_OK) == 0) nftw(pg, remove_one, 16, FTW_DEPTH | FTW_PHYS); /* begun once and not finished */
    char *initdb[] = {program,
                      "-D",
                      pg,
                      "-U",
                      "cotyledger_super",
                      "--auth=reject",
                      "--encoding=UTF8",
                      "--locale=C.UTF-8",
                      "--data-checksums",
                      "--no-instructions",
                      "--no-sync",
                      NULL};
    char *sync[] = {program, "-D", pg, "--sync-only", NULL}; /* once, when all is there */
    enum cot_err err = COT_OK;
    if (cot_process_run(initdb, log, NULL) != 0)
        err = cot_fail(fault, COT_IO, "unable to make a PostgreSQL cluster in %s", dir);
    if (!err) err = append_settings(pg, fault);
    if (!err && (single(bin, pg, "postgres", log, roles) != 0 || single(bin, pg, "cotyledger", log, tidy) != 0))
        err = cot_fail(fault, COT_IO, "unable to make roles and database in %s", dir);
    if (!err && cot_process_run(sync, log, NULL) != 0) err = cot_fail(fault, COT_IO, "unable to sync %s", pg);
    if (!err && rename(pg, made) != 0) err = cot_fail(fault, COT_IO, "unable to rename %s: %s", pg, strerror(errno));
    int fd = err ? -1 : open(dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd >= 0) {
        if (fsync(fd) != 0) err = cot_fail(fault, COT_IO, "unable to sync %s", dir);
        close(fd);
    }
    return err && fault ? cot_hint(fault, "%s says more", log) : err;
}

enum cot_err cot_cluster_write_access(const char *dir, struct cot_fault *fault)
{
    char path[COT_PATH_MOST + 32], text[1024];
    const struct passwd *me = getpwuid(geteuid());
    if (!me) return cot_fail(fault, COT_IO, "the user to run as has no name");
    snprintf(path, sizeof path, "%s/pg/pg_hba.conf", dir);
    enum cot_err err = cot_write_file(path,
                                      "# Written by cotyld at each start.\n"
                                      "local cotyledger all peer map=cot\n"
                                      "local replication cotyledger_backup peer map=cot\n",
                                      fault);
    if (err) return err;
    snprintf(path, sizeof path, "%s/pg/pg_ident.conf", dir);
    snprintf(text, sizeof text,
             "# Written by cotyld at each start.\n"
             "cot \"%s\" cotyledger_owner\ncot \"%s\" cotyledger_run\ncot \"%s\" cotyledger_backup\n",
             me->pw_name, me->pw_name, me->pw_name);
    return cot_write_file(path, text, fault);
}
