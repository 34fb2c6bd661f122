/* The journal of this laptop: its own entries, what it fetched of the ledger, who it is, where it stands. The only room
 * that knows SQLite.
 *
 * One file, `journal.db`, in the data folder. Whatever a function of this header changed is on the disk when
 * cot_journal_commit (or, outside a transaction, the function itself) returns. Changes of several rows stand between
 * begin and commit; one process at a time, another waits up to five seconds and then gets COT_BUSY. Errors else:
 * COT_STORE with words, COT_NEWER for a journal of a newer version. Blobs handed to callbacks live until the callback
 * returns.
 */
#ifndef COTYL_JOURNAL_H
#define COTYL_JOURNAL_H

#include "../client.h"

/* Makes the folder (0700) and the file when `create`; else NOT_FOUND when there is none. Brings an older journal up to
 * date. */
COT_MUSTCHECK enum cot_err cot_journal_open(const char *dir, bool create, struct cot_journal **out,
                                            struct cot_fault *fault);
void cot_journal_close(struct cot_journal *j);

COT_MUSTCHECK enum cot_err cot_journal_begin(struct cot_journal *j, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_commit(struct cot_journal *j, struct cot_fault *fault);
void cot_journal_rollback(struct cot_journal *j); /* does nothing outside a transaction */

/* --- Who this laptop is. `generation` (may be NULL): number of its key file. NOT_FOUND before it joined. -------------
 */
COT_MUSTCHECK enum cot_err cot_journal_identity(struct cot_journal *j, struct cot_identity *out, int64_t *generation,
                                                struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_set_identity(struct cot_journal *j, const struct cot_identity *me,
                                                    int64_t generation, struct cot_fault *fault);

/* --- Where it stands
 * --------------------------------------------------------------------------------------------------- */
enum cot_standstill { COT_MOVING, COT_STOPPED_FORK, COT_STOPPED_CLOSED };
struct cot_stand_at {
    int64_t epoch;        /* 0 before the first sync */
    int64_t position;     /* rows 1..position are here */
    struct cot_id ledger; /* chain value of `position` */
    int64_t sure;         /* last position that a signed head has confirmed */
    int64_t high;         /* highest t = min(clock, receipt) in the ledger, ms */
    int64_t last_sync;    /* ms; 0: never */
    enum cot_standstill stopped;
};
COT_MUSTCHECK enum cot_err cot_journal_where(struct cot_journal *j, struct cot_stand_at *out, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_set_where(struct cot_journal *j, const struct cot_stand_at *w,
                                                 struct cot_fault *fault);

/* --- Own entries
 * -------------------------------------------------------------------------------------------------------- */
enum cot_own_state { COT_OWN_UNSENT, COT_OWN_SENT, COT_OWN_CARRIED };
struct cot_own {
    char tag[COT_TAG_MAX + 1];
    int64_t number, clock;
    int32_t tick;
    struct cot_id digest, chain;
    bool coded; /* it made a thing that carries a code of this tag */
    enum cot_own_state state;
    const char *body;
    size_t len;
};
struct cot_own_head {
    int64_t number; /* 0: none yet */
    struct cot_id chain;
    int64_t coded; /* codes of this tag given out */
    int64_t unsent;
    int64_t clock; /* highest clock among the unsent; with `tick` */
    int32_t tick;
    int64_t last_clock; /* of the last entry, sent or not */
    int32_t last_tick;
};
/* Head of the own journal under `tag`; its chain starts with the house. */
COT_MUSTCHECK enum cot_err cot_journal_own_head(struct cot_journal *j, const struct cot_house_id *house,
                                                const char *tag, struct cot_own_head *out, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_append(struct cot_journal *j, const struct cot_own *o, struct cot_fault *fault);
typedef enum cot_err cot_own_fn(void *ctx, const struct cot_own *o, struct cot_fault *fault);
/* Entries of a tag (NULL: any) in order of number, in the given state (-1: any). A callback's error ends the walk. */
COT_MUSTCHECK enum cot_err cot_journal_walk_own(struct cot_journal *j, const char *tag, int state, cot_own_fn *fn,
                                                void *ctx, struct cot_fault *fault);
/* Entries first..last of a tag, in order. */
COT_MUSTCHECK enum cot_err cot_journal_own_range(struct cot_journal *j, const char *tag, int64_t first, int64_t last,
                                                 cot_own_fn *fn, void *ctx, struct cot_fault *fault);
/* Digest of one; NOT_FOUND. */
COT_MUSTCHECK enum cot_err cot_journal_own_digest(struct cot_journal *j, const char *tag, int64_t number,
                                                  struct cot_id *digest, struct cot_fault *fault);
/* Entries first..last of the tag get the state. */
COT_MUSTCHECK enum cot_err cot_journal_own_mark(struct cot_journal *j, const char *tag, int64_t first, int64_t last,
                                                enum cot_own_state state, struct cot_fault *fault);
/* The unsent entries of the tag become carried. */
COT_MUSTCHECK enum cot_err cot_journal_own_carried(struct cot_journal *j, const char *tag, struct cot_fault *fault);
/* Entries in this state over all tags. */
COT_MUSTCHECK enum cot_err cot_journal_own_count(struct cot_journal *j, enum cot_own_state state, int64_t *n,
                                                 struct cot_fault *fault);

/* --- The ledger as fetched
 * ---------------------------------------------------------------------------------------------- */
struct cot_ledger_row {
    int64_t position, receipt, number;
    char tag[COT_TAG_MAX + 1];
    struct cot_id digest, chain; /* chain: the ledger's value at this position */
    const char *body;            /* NULL: a hole */
    size_t len;
};
typedef enum cot_err cot_ledger_fn(void *ctx, const struct cot_ledger_row *r, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_put_row(struct cot_journal *j, const struct cot_ledger_row *r,
                                               struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_walk_ledger(struct cot_journal *j, int64_t after, cot_ledger_fn *fn, void *ctx,
                                                   struct cot_fault *fault);
/* The ledger's chain value at a position, 1..; NOT_FOUND. */
COT_MUSTCHECK enum cot_err cot_journal_chain_at(struct cot_journal *j, int64_t position, struct cot_id *chain,
                                                struct cot_fault *fault);
/* The last number of a device among rows up to `position`; 0 if none. */
COT_MUSTCHECK enum cot_err cot_journal_last_number(struct cot_journal *j, const char *tag, int64_t position,
                                                   int64_t *number, struct cot_fault *fault);

struct cot_kept_seal {
    int64_t position; /* of the last row that it covers */
    char tag[COT_TAG_MAX + 1];
    int64_t first, last;
    const char *jws;
    size_t len;
};
typedef enum cot_err cot_seal_fn(void *ctx, const struct cot_kept_seal *s, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_put_seal(struct cot_journal *j, const struct cot_kept_seal *s,
                                                struct cot_fault *fault);
/* The seal whose last row is at `position`, if there is one. */
COT_MUSTCHECK enum cot_err cot_journal_seal_at(struct cot_journal *j, int64_t position, cot_seal_fn *fn, void *ctx,
                                               struct cot_fault *fault);

/* Heads of all devices seen, with their keys once known: a cache of what the rows say. */
struct cot_device_head {
    char tag[COT_TAG_MAX + 1];
    int64_t number;
    struct cot_id chain, key;
    bool has_key;
};
typedef enum cot_err cot_device_fn(void *ctx, const struct cot_device_head *d, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_put_device(struct cot_journal *j, const struct cot_device_head *d,
                                                  struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_walk_devices(struct cot_journal *j, cot_device_fn *fn, void *ctx,
                                                    struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_drop_devices(struct cot_journal *j, struct cot_fault *fault);

/* Drops rows and seals past `position`. */
COT_MUSTCHECK enum cot_err cot_journal_drop_after(struct cot_journal *j, int64_t position, struct cot_fault *fault);

/* --- After a restore of the server
 * -------------------------------------------------------------------------------------- */
/* Moves rows and seals past `position` aside, to be sent again. */
COT_MUSTCHECK enum cot_err cot_journal_set_aside(struct cot_journal *j, int64_t position, struct cot_fault *fault);
/* Seals set aside, in the order of their old positions. */
COT_MUSTCHECK enum cot_err cot_journal_walk_aside(struct cot_journal *j, cot_seal_fn *fn, void *ctx,
                                                  struct cot_fault *fault);
/* The line of an entry, from the rows set aside or the ledger; NOT_FOUND also for a hole. Appended to `line`. */
COT_MUSTCHECK enum cot_err cot_journal_line(struct cot_journal *j, const char *tag, int64_t number,
                                            struct cot_buf *line, struct cot_fault *fault);
/* Forgets what was set aside up to the old position. */
COT_MUSTCHECK enum cot_err cot_journal_aside_done(struct cot_journal *j, int64_t position, struct cot_fault *fault);

/* --- Statements of a buyer's farm
 * ---------------------------------------------------------------------------------------- */
/* One is kept of each form ("text", "csv", "json"): the last. */
COT_MUSTCHECK enum cot_err cot_journal_put_statement(struct cot_journal *j, const char *form, int32_t on,
                                                     const char *jws, size_t len, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_journal_statement(struct cot_journal *j, const char *form, int32_t *on,
                                                 struct cot_buf *jws, struct cot_fault *fault);

/* The database's own check of itself. */
COT_MUSTCHECK enum cot_err cot_journal_check(struct cot_journal *j, struct cot_fault *fault);

#endif
