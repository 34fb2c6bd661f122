/* Bare: one row into the journal's table of own entries, durably, as SQLite does it; nothing else. */
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

static int step(sqlite3 *db, long long number, const char *body, int len)
{
    sqlite3_stmt *s = NULL;
    unsigned char digest[32] = {1};
    int rc = sqlite3_prepare_v2(db, "insert into own values ('ZZ', ?, 1, 0, ?, ?, 0, 0, ?)", -1, &s, NULL);
    if (rc == SQLITE_OK) rc = sqlite3_bind_int64(s, 1, number);
    if (rc == SQLITE_OK) rc = sqlite3_bind_blob(s, 2, digest, sizeof digest, SQLITE_STATIC);
    if (rc == SQLITE_OK) rc = sqlite3_bind_blob(s, 3, digest, sizeof digest, SQLITE_STATIC);
    if (rc == SQLITE_OK) rc = sqlite3_bind_blob(s, 4, body, len, SQLITE_STATIC);
    if (rc == SQLITE_OK) rc = sqlite3_step(s);
    sqlite3_finalize(s);
    return rc;
}

int main(int argc, char **argv)
{
    sqlite3 *db = NULL;
    char body[400];
    struct timespec now;
    if (argc != 2) return 2;
    memset(body, 'x', sizeof body);
    clock_gettime(CLOCK_MONOTONIC, &now);
    int rc = sqlite3_open_v2(argv[1], &db, SQLITE_OPEN_READWRITE, NULL);
    if (rc == SQLITE_OK)
        rc =
            sqlite3_exec(db, "pragma journal_mode = wal; pragma synchronous = full; begin immediate", NULL, NULL, NULL);
    if (rc == SQLITE_OK) rc = step(db, (long long)now.tv_sec * 1000000000 + now.tv_nsec, body, sizeof body);
    if (rc == SQLITE_DONE) rc = sqlite3_exec(db, "commit", NULL, NULL, NULL);
    if (rc != SQLITE_OK) fprintf(stderr, "%s\n", sqlite3_errmsg(db));
    sqlite3_close(db);
    return rc == SQLITE_OK ? 0 : 1;
}
