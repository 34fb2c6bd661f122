/* Opens the journal, brings it up to date, and asks its questions. */
#include "journal/db.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define APPLICATION_ID 0x436f744a /* "CotJ" */
#define BUSY_MS 5000

enum cot_err cot_journal_fail(struct cot_journal *j, int rc, const char *doing, struct cot_fault *fault)
{
    const char *why = j->db ? sqlite3_errmsg(j->db) : sqlite3_errstr(rc);
    switch (rc & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        cot_fail(fault, COT_BUSY, "unable to %s: another cotyl is writing in %.300s", doing, j->dir);
        return cot_hint(fault, "wait until it is done, then try again");
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
        cot_fail(fault, COT_STORE, "unable to %s: %.300s may not be written to (%.200s)", doing, j->dir, why);
        return cot_hint(fault, "the folder and the files in it must be yours and writable");
    case SQLITE_FULL:
        cot_fail(fault, COT_STORE, "unable to %s: the disk is full", doing);
        return cot_hint(fault, "nothing was recorded; make room, then do it again");
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
        cot_fail(fault, COT_STORE, "unable to %s: the journal in %.300s is damaged (%.200s)", doing, j->dir, why);
        return cot_hint(fault,
                        "keep the folder as it is, join again in a new one (--dir), and have the old tag closed");
    case SQLITE_NOMEM:
        return cot_fail(fault, COT_MEMORY, "unable to %s: out of memory", doing);
    default:
        return cot_fail(fault, COT_STORE, "unable to %s: %.300s", doing, why);
    }
}

/* --- Asking ---------------------------------------------------------------------------------------------------------
 */

struct cot_ask cot_ask(struct cot_journal *j, enum cot_question q)
{
    struct cot_ask a = {j, NULL, 1, SQLITE_OK};
    if (!j->stmt[q])
        a.rc = sqlite3_prepare_v3(j->db, cot_journal_sql[q], -1, SQLITE_PREPARE_PERSISTENT, &j->stmt[q], NULL);
    a.stmt = j->stmt[q];
    return a;
}

void cot_ask_int(struct cot_ask *a, int64_t i)
{
    if (a->rc == SQLITE_OK) a->rc = sqlite3_bind_int64(a->stmt, a->next++, i);
}

void cot_ask_text(struct cot_ask *a, const char *s)
{
    if (a->rc != SQLITE_OK) return;
    a->rc = s ? sqlite3_bind_text(a->stmt, a->next, s, -1, SQLITE_STATIC) : sqlite3_bind_null(a->stmt, a->next);
    a->next++;
}

void cot_ask_blob(struct cot_ask *a, const void *bytes, size_t len)
{
    if (a->rc != SQLITE_OK) return;
    a->rc =
        bytes ? sqlite3_bind_blob64(a->stmt, a->next, bytes, len, SQLITE_STATIC) : sqlite3_bind_null(a->stmt, a->next);
    a->next++;
}

bool cot_ask_row(struct cot_ask *a)
{
    if (a->rc != SQLITE_OK && a->rc != SQLITE_ROW) return false;
    a->rc = sqlite3_step(a->stmt);
    return a->rc == SQLITE_ROW;
}

enum cot_err cot_ask_done(struct cot_ask *a, const char *doing, struct cot_fault *fault)
{
    enum cot_err e = COT_OK;
    if (a->rc != SQLITE_OK && a->rc != SQLITE_ROW && a->rc != SQLITE_DONE)
        e = cot_journal_fail(a->j, a->rc, doing, fault);
    if (a->stmt) {
        sqlite3_reset(a->stmt);
        sqlite3_clear_bindings(a->stmt);
    }
    return e;
}

enum cot_err cot_ask_run(struct cot_ask *a, const char *doing, struct cot_fault *fault)
{
    while (cot_ask_row(a)) continue;
    return cot_ask_done(a, doing, fault);
}

bool cot_col_id(struct cot_ask *a, int column, void *out, size_t len)
{
    size_t have;
    const char *bytes = cot_col_bytes(a, column, &have);
    if (!bytes || have != len) {
        a->rc = SQLITE_CORRUPT;
        return false;
    }
    memcpy(out, bytes, len);
    return true;
}

bool cot_col_tag(struct cot_ask *a, int column, char out[static COT_TAG_MAX + 1])
{
    size_t have;
    const char *bytes = cot_col_bytes(a, column, &have);
    if (!bytes || !cot_tag_valid(bytes, have)) {
        a->rc = SQLITE_CORRUPT;
        return false;
    }
    memcpy(out, bytes, have);
    out[have] = '\0';
    return true;
}

const char *cot_col_bytes(struct cot_ask *a, int column, size_t *len)
{
    const char *bytes = sqlite3_column_blob(a->stmt, column);
    *len = (size_t)sqlite3_column_bytes(a->stmt, column);
    return bytes;
}

int64_t cot_col_int(struct cot_ask *a, int column)
{
    return sqlite3_column_int64(a->stmt, column);
}

/* --- Transactions
 * ------------------------------------------------------------------------------------------------------ */

static enum cot_err exec(struct cot_journal *j, const char *sql, const char *doing, struct cot_fault *fault)
{
    int rc = sqlite3_exec(j->db, sql, NULL, NULL, NULL);
    return rc == SQLITE_OK ? COT_OK : cot_journal_fail(j, rc, doing, fault);
}

enum cot_err cot_journal_begin(struct cot_journal *j, struct cot_fault *fault)
{
    if (j->within) return cot_fail(fault, COT_INTERNAL, "a change of the journal is open already");
    enum cot_err e = exec(j, "begin immediate", "write in the journal", fault);
    j->within = !e;
    return e;
}

enum cot_err cot_journal_commit(struct cot_journal *j, struct cot_fault *fault)
{
    if (!j->within) return cot_fail(fault, COT_INTERNAL, "no change of the journal is open");
    enum cot_err e = exec(j, "commit", "write in the journal", fault);
    if (e) cot_journal_rollback(j);
    j->within = false;
    return e;
}

void cot_journal_rollback(struct cot_journal *j)
{
    if (j->within && !sqlite3_get_autocommit(j->db)) sqlite3_exec(j->db, "rollback", NULL, NULL, NULL);
    j->within = false;
}

/* --- Opening ---------------------------------------------------------------------------------------------------------
 */

static enum cot_err read_number(struct cot_journal *j, const char *pragma, int64_t *out, struct cot_fault *fault)
{
    sqlite3_stmt *s = NULL;
    int rc = sqlite3_prepare_v2(j->db, pragma, -1, &s, NULL);
    if (rc == SQLITE_OK) rc = sqlite3_step(s);
    if (rc == SQLITE_ROW) *out = sqlite3_column_int64(s, 0);
    enum cot_err e = rc == SQLITE_ROW ? COT_OK : cot_journal_fail(j, rc, "open the journal", fault);
    sqlite3_finalize(s);
    return e;
}

static enum cot_err run_step(struct cot_journal *j, int number, struct cot_fault *fault)
{
    char version[80];
    int64_t have = 0;
    snprintf(version, sizeof version, "pragma user_version = %d; pragma application_id = %d", number, APPLICATION_ID);
    enum cot_err e = cot_journal_begin(j, fault);
    if (!e) e = read_number(j, "pragma user_version", &have, fault);
    if (!e && have < number) { /* else another process was first */
        e = exec(j, cot_journal_steps[number - 1].sql, "bring the journal up to date", fault);
        if (!e) e = exec(j, version, "bring the journal up to date", fault);
    }
    if (!e) e = cot_journal_commit(j, fault);
    if (e) {
        cot_journal_rollback(j);
        return cot_within(fault, "step %s", cot_journal_steps[number - 1].name);
    }
    return COT_OK;
}

enum cot_err cot_journal_upgrade(struct cot_journal *j, int steps, struct cot_fault *fault)
{
    int64_t version = 0, application = 0;
    enum cot_err e = read_number(j, "pragma user_version", &version, fault);
    if (!e) e = read_number(j, "pragma application_id", &application, fault);
    if (e) return e;
    if (version > 0 && application != APPLICATION_ID) {
        cot_fail(fault, COT_STORE, "%.300s/journal.db is not a journal of cotyl", j->dir);
        return cot_hint(fault, "say where this laptop keeps its data with --dir");
    }
    if (version > cot_journal_step_count) {
        cot_fail(fault, COT_NEWER, "the journal in %.300s was written by a newer cotyl (step %lld, this one knows %d)",
                 j->dir, (long long)version, cot_journal_step_count);
        return cot_hint(fault, "use the newer cotyl; nothing was changed");
    }
    for (int n = (int)version + 1; !e && n <= steps; n++) e = run_step(j, n, fault);
    return e;
}

static enum cot_err make_dir(const char *dir, struct cot_fault *fault)
{
    char path[4096];
    size_t len = strlen(dir);
    if (len >= sizeof path) return cot_fail(fault, COT_USAGE, "the folder's name is too long");
    memcpy(path, dir, len + 1);
    for (char *p = path + 1; *p; p++) {
        if (*p != '/') continue;
        *p = '\0';
        if (mkdir(path, 0700) != 0 && errno != EEXIST) break;
        *p = '/';
    }
    if (mkdir(dir, 0700) == 0 || errno == EEXIST) return COT_OK;
    cot_fail(fault, COT_IO, "unable to make the folder %.400s: %s", dir, strerror(errno));
    return cot_hint(fault, "say where this laptop may keep its data with --dir");
}

static enum cot_err open_file(struct cot_journal *j, bool create, struct cot_fault *fault)
{
    char path[4200];
    struct stat st;
    snprintf(path, sizeof path, "%s/journal.db", j->dir);
    if (!create && stat(path, &st) != 0 && errno == ENOENT)
        return cot_fail(fault, COT_NOT_FOUND, "there is no journal in %.300s", j->dir);
    mode_t before = umask(077);
    int rc = sqlite3_open_v2(path, &j->db, SQLITE_OPEN_READWRITE | (create ? SQLITE_OPEN_CREATE : 0), NULL);
    umask(before);
    if (rc != SQLITE_OK) return cot_journal_fail(j, rc, "open the journal", fault);
    sqlite3_extended_result_codes(j->db, 1);
    sqlite3_busy_timeout(j->db, BUSY_MS);
    return exec(
        j,
        "pragma journal_mode = wal; pragma synchronous = full; pragma foreign_keys = on; pragma trusted_schema = off",
        "open the journal", fault);
}

enum cot_err cot_journal_open(const char *dir, bool create, struct cot_journal **out, struct cot_fault *fault)
{
    struct cot_journal *j = calloc(1, sizeof *j);
    enum cot_err e = COT_OK;
    *out = NULL;
    if (!j || !(j->dir = strdup(dir))) {
        free(j);
        return cot_fail(fault, COT_MEMORY, "out of memory");
    }
    if (create) e = make_dir(dir, fault);
    if (!e) e = open_file(j, create, fault);
    if (!e) e = cot_journal_upgrade(j, cot_journal_step_count, fault);
    if (e) {
        cot_journal_close(j);
        return e;
    }
    *out = j;
    return COT_OK;
}

void cot_journal_close(struct cot_journal *j)
{
    if (!j) return;
    cot_journal_rollback(j);
    for (int q = 0; q < COT_Q_COUNT; q++) sqlite3_finalize(j->stmt[q]);
    sqlite3_close(j->db);
    free(j->dir);
    free(j);
}

enum cot_err cot_journal_check(struct cot_journal *j, struct cot_fault *fault)
{
    sqlite3_stmt *s = NULL;
    enum cot_err e = COT_OK;
    int rc = sqlite3_prepare_v2(j->db, "pragma integrity_check(1)", -1, &s, NULL);
    if (rc == SQLITE_OK) rc = sqlite3_step(s);
    const char *word = rc == SQLITE_ROW ? (const char *)sqlite3_column_text(s, 0) : NULL;
    if (!word) e = cot_journal_fail(j, rc, "check the journal", fault);
    else if (strcmp(word, "ok") != 0) e = cot_fail(fault, COT_STORE, "the journal's file is damaged: %.300s", word);
    sqlite3_finalize(s);
    return e;
}
