/* Inside the store: connections, questions, parameters. */
#ifndef COTYLEDGER_STORE_CONN_H
#define COTYLEDGER_STORE_CONN_H

#include <libpq-fe.h>

#include "store.h"

/* Everything this program ever asks. The table in questions.c has the text, the parameters and the columns expected. */
enum cot_question {
    COT_Q_BEGIN,
    COT_Q_BEGIN_STILL,
    COT_Q_REACH,
    COT_Q_NARROW,
    COT_Q_COMMIT,
    COT_Q_ROLLBACK,
    COT_Q_HEAD,
    COT_Q_LOCK,
    COT_Q_SECRET,
    COT_Q_FOUND,
    COT_Q_EPOCH,
    COT_Q_ADD_ROWS,
    COT_Q_ADD_SEAL,
    COT_Q_MOVE,
    COT_Q_ROWS,
    COT_Q_FEED_WHOLE,
    COT_Q_FEED_FARM,
    COT_Q_NUMBERS,
    COT_Q_CHAIN,
    COT_Q_DEVICE_HEADS,
    COT_Q_INVITATION,
    COT_Q_ADD_INVITATION,
    COT_Q_JOINED,
    COT_Q_JOINED_ALL,
    COT_Q_ADD_JOINED,
    COT_Q_HOUSES,
    COT_Q_SCHEMA,
    COT_Q_SETTINGS,
    COT_Q_COUNT
};

/* Types by letter, for parameters and columns: i int8, b bytea, t text, o bool, v void, B array of bytea. */
struct cot_question_row {
    const char *name;
    const char *sql;
    const char *params;
    const char *columns; /* "": a command without rows */
};
extern const struct cot_question_row cot_questions[COT_Q_COUNT];
Oid cot_type_oid(char letter);

#define COT_BIND_MAX 12
struct cot_bind {
    int n;
    const char *value[COT_BIND_MAX];
    int len[COT_BIND_MAX];
    char ints[COT_BIND_MAX][8];
};
void cot_bind_int(struct cot_bind *b, int64_t v);
void cot_bind_bytes(struct cot_bind *b, const void *bytes, size_t len);
void cot_bind_text(struct cot_bind *b, const char *s);
/* Array of bytea in libpq's binary form: start, then n items, then bind its bytes. */
void cot_array_start(struct cot_buf *a, size_t n);
void cot_array_item(struct cot_buf *a, const void *bytes, size_t len);

struct cot_conn {
    PGconn *pg;
    bool prepared_wanted;
    bool prepared[COT_Q_COUNT];
    bool warned;                /* a warning came since the last commit was sent: see cot_conn_flush */
    enum cot_question sent[24]; /* in the pipeline, results not read yet */
    bool preparing[24];
    int pending;
    bool broken; /* reconnect before the next use */
};
COT_MUSTCHECK enum cot_err cot_conn_open(struct cot_conn *c, const char *conninfo, const char *user, bool prepared,
                                         int64_t deadline, struct cot_fault *fault);
void cot_conn_close(struct cot_conn *c);
bool cot_conn_alive(struct cot_conn *c); /* cheap: open, and the other side has not hung up */

/* Puts a question into the pipeline. `bind` may be NULL for none. */
COT_MUSTCHECK enum cot_err cot_conn_put(struct cot_conn *c, enum cot_question q, const struct cot_bind *bind,
                                        struct cot_fault *fault);
/* Sends all, reads all. The last question's rows go to *out (the caller clears it; may be NULL when rows do not
 * matter). The first error ends the pipeline and is told. */
COT_MUSTCHECK enum cot_err cot_conn_flush(struct cot_conn *c, int64_t deadline, PGresult **out,
                                          struct cot_fault *fault);

/* Cells, already checked for type by cot_conn_flush. */
int64_t cot_cell_int(const PGresult *r, int row, int col);
const char *cot_cell_bytes(const PGresult *r, int row, int col, size_t *len); /* NULL for null */
bool cot_cell_id(const PGresult *r, int row, int col, struct cot_id *out);    /* false unless 32 bytes */
bool cot_cell_tag(const PGresult *r, int row, int col, char out[static COT_TAG_MAX + 1]);

struct cot_tx {
    struct cot_store *store;
    struct cot_conn *conn;
    struct cot_house_id house;
    bool of_house, whole, open, failed;
    int64_t deadline;
};
/* Asks one question within the transaction; see cot_conn_flush. */
COT_MUSTCHECK enum cot_err cot_tx_ask(struct cot_tx *tx, enum cot_question q, const struct cot_bind *bind,
                                      PGresult **out, struct cot_fault *fault);
#endif
