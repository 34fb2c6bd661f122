/* Sync: what waits here goes to the server, what is new there comes here, and every byte of it is verified before it is
 * stored: digests, the ledger's chain, each device's chain, seals under keys that the house's own journal names, the
 * head under the house's key. */
#ifndef COTYL_SYNC_H
#define COTYL_SYNC_H

#include "client.h"
#include "journal/journal.h"
#include "net/net.h"

struct cot_sync {
    struct cot_cli *cli;
    struct cot_net *net;
    bool quiet;
    struct cot_buf answer;
    struct cot_head head; /* the last one that the server signed */
    struct cot_stand_at where;
    int64_t sent, fetched;  /* entries */
    bool restored;          /* the server went back, and this laptop after it */
    int64_t given_back;     /* entries that the server had lost and got again */
    int64_t not_given_back; /* and those that it would not take */
};

COT_MUSTCHECK enum cot_err cot_sync_open(struct cot_cli *cli, bool quiet, struct cot_sync *s);
void cot_sync_close(struct cot_sync *s);
/* A signed call of this laptop's. `content_type` "" and no body for GET. The answer is in s->answer. */
COT_MUSTCHECK enum cot_err cot_sync_call(struct cot_sync *s, const char *method, const char *path, const char *query,
                                         const char *content_type, const void *body, size_t len);

/* All of it: head, what a restore needs, fetch, send, fetch; a buyer's statements and the comparison of books. */
COT_MUSTCHECK enum cot_err cot_sync_run(struct cot_sync *s);

/* --- Parts, each in its own file.
 * ------------------------------------------------------------------------------------------- */
/* Fetches until the head. COT_UNAUTHENTIC with nothing of the offending answer stored. */
COT_MUSTCHECK enum cot_err cot_sync_fetch(struct cot_sync *s);
/* One answer of /v1/ledger, verified and stored in one transaction; `more` tells whether the head is further on. */
COT_MUSTCHECK enum cot_err cot_sync_take(struct cot_sync *s, const char *bytes, size_t len, bool *more);
/* Sends unsent entries page by page. FORK is remembered in the journal. */
COT_MUSTCHECK enum cot_err cot_sync_send(struct cot_sync *s);
/* Says and remembers that the journal forked; returns COT_FORK. */
COT_MUSTCHECK enum cot_err cot_sync_forked(struct cot_sync *s);
/* Says and remembers that this laptop has been closed; returns COT_CLOSED. */
COT_MUSTCHECK enum cot_err cot_sync_closed(struct cot_sync *s);
/* The server's epoch is another: back to the last common position; what it lacks is set aside. */
COT_MUSTCHECK enum cot_err cot_sync_go_back(struct cot_sync *s);
/* Gives back the pages set aside. */
COT_MUSTCHECK enum cot_err cot_sync_give_back(struct cot_sync *s);
/* Device heads and keys from the rows, into the journal; within a transaction. */
COT_MUSTCHECK enum cot_err cot_sync_devices_again(struct cot_sync *s);
/* Buyers: compares the books and fetches the farm's statements of today. */
COT_MUSTCHECK enum cot_err cot_sync_buyer(struct cot_sync *s);

/* A page of the tag's own entries first..last, sealed with cli->key, appended to `page`; last is lowered to what fits.
 */
COT_MUSTCHECK enum cot_err cot_sync_page(struct cot_cli *cli, int64_t first, int64_t *last, struct cot_buf *page);

#endif
