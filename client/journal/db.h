/* Inside the journal's room: the open database and its named questions. */
#ifndef COTYL_JOURNAL_DB_H
#define COTYL_JOURNAL_DB_H

#include <sqlite3.h>

#include "journal/journal.h"

struct cot_step {
    const char *name, *sql;
};
/* sql/client, in order, embedded at build time. */
extern const struct cot_step cot_journal_steps[];
extern const int cot_journal_step_count;

/* Every question that is asked of the journal; the text is in the table of the file that asks it. */
enum cot_question {
    COT_Q_IDENTITY,
    COT_Q_SET_IDENTITY,
    COT_Q_WHERE,
    COT_Q_SET_WHERE,
    COT_Q_OWN_LAST,
    COT_Q_OWN_CODED,
    COT_Q_OWN_UNSENT,
    COT_Q_APPEND,
    COT_Q_WALK_OWN,
    COT_Q_OWN_RANGE,
    COT_Q_OWN_DIGEST,
    COT_Q_OWN_MARK,
    COT_Q_OWN_CARRIED_OVER,
    COT_Q_OWN_COUNT,
    COT_Q_PUT_ROW,
    COT_Q_WALK_LEDGER,
    COT_Q_CHAIN_AT,
    COT_Q_LAST_NUMBER,
    COT_Q_PUT_SEAL,
    COT_Q_SEAL_AT,
    COT_Q_PUT_DEVICE,
    COT_Q_WALK_DEVICES,
    COT_Q_DROP_DEVICES,
    COT_Q_ASIDE_ROWS,
    COT_Q_ASIDE_SEALS,
    COT_Q_DROP_ROWS,
    COT_Q_DROP_SEALS,
    COT_Q_WALK_ASIDE,
    COT_Q_LINE,
    COT_Q_ASIDE_ROWS_DONE,
    COT_Q_ASIDE_SEALS_DONE,
    COT_Q_PUT_STATEMENT,
    COT_Q_STATEMENT,
    COT_Q_COUNT
};
extern const char *const cot_journal_sql[COT_Q_COUNT];

struct cot_journal {
    sqlite3 *db;
    char *dir;
    bool within; /* a transaction is open */
    sqlite3_stmt *stmt[COT_Q_COUNT];
};

/* A question about to be asked: bind in order, then step. A failed bind is remembered; cot_ask_row and cot_ask_done
 * report it. */
struct cot_ask {
    struct cot_journal *j;
    sqlite3_stmt *stmt;
    int next;
    int rc;
};
struct cot_ask cot_ask(struct cot_journal *j, enum cot_question q);
void cot_ask_int(struct cot_ask *a, int64_t i);
void cot_ask_text(struct cot_ask *a, const char *s);
void cot_ask_blob(struct cot_ask *a, const void *bytes, size_t len); /* NULL: null */
/* True when there is a row (its columns may be read); false at the end or after a failure, see cot_ask_done. */
bool cot_ask_row(struct cot_ask *a);
/* Runs what returns no rows, or ends reading rows: gives the statement back. `doing` completes "unable to ...". */
enum cot_err cot_ask_done(struct cot_ask *a, const char *doing, struct cot_fault *fault);
enum cot_err cot_ask_run(struct cot_ask *a, const char *doing, struct cot_fault *fault);

/* Columns. A blob of another length than wanted is a damaged journal: false, and the ask fails. */
bool cot_col_id(struct cot_ask *a, int column, void *out, size_t len);
bool cot_col_tag(struct cot_ask *a, int column, char out[static COT_TAG_MAX + 1]);
const char *cot_col_bytes(struct cot_ask *a, int column, size_t *len); /* NULL for null */
int64_t cot_col_int(struct cot_ask *a, int column);

/* Brings the database up to `steps` steps; for tests of half-way journals too. */
enum cot_err cot_journal_upgrade(struct cot_journal *j, int steps, struct cot_fault *fault);
enum cot_err cot_journal_fail(struct cot_journal *j, int rc, const char *doing, struct cot_fault *fault);

#endif
