/* The books of the houses that are asked about, each read up to a position; and the session in which a request works
 * with one.
 *
 * PostgreSQL holds the truth, this holds readings: before an answer the head is read and what is new is folded. At most
 * `bytes` are kept in all (the houses asked about last). A house is worked with by one request at a time.
 */
#ifndef COTYLD_BOOKS_H
#define COTYLD_BOOKS_H

#include "kept.h"
#include "store.h"

struct cot_books;
struct cot_books *cot_books_new(struct cot_store *store, size_t bytes);
void cot_books_free(struct cot_books *b);
struct cot_store *cot_books_store(struct cot_books *b);

struct cot_house;
struct cot_session {
    struct cot_books *books;
    struct cot_house *house; /* locked for us; NULL after cot_session_release */
    struct cot_tx *tx;
    struct cot_house_id id;
    struct cot_heads head;
    struct cot_standing who;   /* after cot_session_asker: the asker's, at the head */
    char tag[COT_TAG_MAX + 1]; /* and its device */
    int64_t deadline;
};

/* Locks the house here, begins a transaction on it, reads its head and folds its book up to it. With `tag` the head is
 * also locked in the database, with that device's head beside it: nobody moves this house until the session ends.
 * Always end with cot_session_close, after an error too. Errors: NOT_FOUND, BUSY, TIMEOUT, STORE, MEMORY. */
COT_MUSTCHECK enum cot_err cot_session_open(struct cot_books *b, const struct cot_house_id *id, const char *tag,
                                            int64_t deadline, struct cot_session *out, struct cot_fault *fault);
/* Founds a house (its secret, an empty head) and opens a session on it, not committed before something is added. */
COT_MUSTCHECK enum cot_err cot_session_found(struct cot_books *b, const struct cot_house_id *id,
                                             const uint8_t seed[static 32], const char *tag, int64_t deadline,
                                             struct cot_session *out, struct cot_fault *fault);
void cot_session_close(struct cot_session *s);
/* Lets others at the house while this session still reads from its transaction; book and key are not to be used after.
 */
void cot_session_release(struct cot_session *s);

/* Fills `who`: the asker's standing at the head. `key` is the one that its signature was verified with.
 * Errors: UNAUTHENTIC (unknown, or another key now), CLOSED. */
COT_MUSTCHECK enum cot_err cot_session_asker(struct cot_session *s, const char *tag, const struct cot_id *key,
                                             struct cot_fault *fault);
bool cot_session_is_buyer(const struct cot_session *s);

struct cot_book *cot_session_book(struct cot_session *s); /* the staff's */
/* The view of one farm's buyers, folded to the head. The transaction sees only that farm's from then on. */
COT_MUSTCHECK enum cot_err cot_session_view(struct cot_session *s, const struct cot_id *farm, struct cot_book **out,
                                            struct cot_fault *fault);
/* The house's keys, read once. */
COT_MUSTCHECK enum cot_err cot_session_key(struct cot_session *s, const struct cot_keypair **out,
                                           struct cot_fault *fault);
/* The head, signed. */
COT_MUSTCHECK enum cot_err cot_session_head(struct cot_session *s, struct cot_buf *jws, struct cot_fault *fault);
/* A small cache of answers that hold as long as the head does; NULL when there is none. */
const char *cot_session_recall(struct cot_session *s, const char *question, size_t *len);
void cot_session_remember(struct cot_session *s, const char *question, const char *answer, size_t len);

/* Adds rows at the head (number and position go on from it) and commits; then folds them. `page` needs tag, receipt,
 * seal, journal; `facts` and `lines` are its rows from `skip` on. Under a session opened with the page's tag. */
COT_MUSTCHECK enum cot_err cot_session_add(struct cot_session *s, struct cot_new_page *page,
                                           const struct cot_kept *facts, const struct cot_page_entry *lines,
                                           size_t skip, struct cot_fault *fault);

/* A device's public key, without a session: from memory if it is there (keys never change), else read.
 * UNAUTHENTIC when house or device are not known. */
COT_MUSTCHECK enum cot_err cot_books_key(struct cot_books *b, const struct cot_house_id *id, const char *tag,
                                         int64_t deadline, struct cot_id *key, struct cot_fault *fault);

#endif
