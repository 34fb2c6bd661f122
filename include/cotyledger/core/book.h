/* The book: what a set of ledger rows says of a house.
 *
 * The same rows give the same book in whatever order they were put. Who may is judged by position, what makes sense by
 * place (t, tag, number): t = min(clock, receipt) for staff, receipt for buyers and the house's own journal, own clock
 * for entries not sent yet. Things are registers of fields, the change with the later place stands, two changes that
 * had not seen each other clash and the clash is shown. Work (sowings, counts ...) is kept per batch in order of place.
 *
 * The book owns all it hands out until the next cot_book_put or cot_book_free. Not thread-safe.
 */
#ifndef COTYLEDGER_CORE_BOOK_H
#define COTYLEDGER_CORE_BOOK_H

#include "cotyledger/core/day.h"
#include "cotyledger/core/err.h"
#include "cotyledger/core/fact.h"

#define COT_RULES_VERSION 1

struct cot_row {
    int64_t position; /* 1.. in the ledger; 0: not sent yet */
    int64_t receipt;  /* ms, the server's; 0: not sent yet */
    struct cot_id digest;
    const struct cot_fact *fact;
};

struct cot_book;
/* `farm` NULL: the staff's view of the house. Else the view of that farm's buyers: rows of the farm and the catalogue;
 * things it cannot see are not queried for being unknown. NULL when out of memory. */
struct cot_book *cot_book_new(const struct cot_id *farm);
void cot_book_free(struct cot_book *b);

/* Puts one row. A row put twice (same digest) changes nothing, except that an unsent one becomes a sent one.
 * Errors: COT_MEMORY. */
COT_MUSTCHECK enum cot_err cot_book_put(struct cot_book *b, const struct cot_row *row);

/* Rows in all, of them unsent, highest position put. */
void cot_book_size(const struct cot_book *b, int64_t *rows, int64_t *unsent, int64_t *position);
size_t cot_book_bytes(const struct cot_book *b); /* memory held */

/* --- Things ------------------------------------------------------------------------------------------------- */
struct cot_thing {
    struct cot_id id;
    enum cot_thing_type type;
    const struct cot_fact *made; /* the entry that made it (the book's copy) */
    struct cot_id farm;          /* zero when of no farm */
    bool gone;                   /* its making was taken back, the line withdrawn, the planned sowing dropped */
    const void *inside;          /* the book's own */
};

/* Things of a type that are booked, in identity order; *n of them. Reading settles what is not settled yet; NULL with
 * *n = 0 when there is none (or out of memory). Order lines that were withdrawn and planned sowings that were dropped
 * are among them
 * (`gone`); what was taken back is not. */
const struct cot_thing *const *cot_book_things(struct cot_book *b, enum cot_thing_type type, size_t *n);
/* By its identity, or by the digest of an entry that carries it. What was taken back is still found (`gone`); what is
 * queried or left aside is NULL. */
const struct cot_thing *cot_book_thing(struct cot_book *b, const struct cot_id *id);
const struct cot_thing *
cot_book_house(struct cot_book *b); /* carries the house rules' fields too; NULL before entry 1 */

/* The field's standing value; NULL when it has none. */
const struct cot_value *cot_thing_value(const struct cot_thing *t, enum cot_field f);
int64_t cot_thing_int(const struct cot_thing *t, enum cot_field f, int64_t otherwise);
const struct cot_id *cot_thing_id(const struct cot_thing *t, enum cot_field f);
/* Text is not NUL-terminated on the wire, but is in the book. "" when absent. */
const char *cot_thing_text(const struct cot_thing *t, enum cot_field f);
/* Name people use: NAME, else CODE, else TAG, else "". */
const char *cot_thing_name(const struct cot_thing *t);

/* Finds by what a person typed: code (check character verified), or name (exact, then without regard to ASCII case,
 * then as the only one that starts so); "Crop/Variety" and "Variety/Lot" tell like names apart. COT_THING_NONE: of any
 * type. Errors: NOT_FOUND with the nearest names in the hint, AMBIGUOUS with the candidates, INVALID for a mistyped
 * code. */
COT_MUSTCHECK enum cot_err cot_book_find(struct cot_book *b, enum cot_thing_type type, const char *typed,
                                         const struct cot_thing **out, struct cot_fault *fault);

/* --- Devices and members, by position ------------------------------------------------------------------------- */
struct cot_standing {
    bool known; /* the device is in the book */
    bool closed;
    struct cot_id key; /* its public key */
    enum cot_part part;
    bool member_gone;           /* the member's permission has ended */
    struct cot_id member, farm; /* farm: zero but for buyers */
};
/* As it stands after the row at `position` (INT64_MAX: now). "H", the house's own journal, has a key and no member; its
 * part is given as auditor: it may what the kinds say of COT_BY_HOUSE and nothing else. */
void cot_book_device(struct cot_book *b, const char *tag, int64_t position, struct cot_standing *out);
/* First tag never used. False when all are gone. */
bool cot_book_next_tag(struct cot_book *b, char out[static COT_TAG_MAX + 1]);

/* --- What became of each entry ---------------------------------------------------------------------------------- */
enum cot_verdict {
    COT_BOOKED,
    COT_QUERIED, /* kept, left out until a manager answers: `reason` says why */
    COT_REQUEST, /* a change that needs the house's word: by a buyer after the closing day, by a hand */
    COT_ASIDE,   /* a manager answered: left out */
    COT_TAKEN_BACK,
    COT_TWICE /* the same fact carried over twice: counted once */
};
enum cot_flag {                         /* shown beside booked facts */
                COT_FLAG_CLASH = 1,     /* two changes of a field, neither had seen the other */
                COT_FLAG_TWIN = 2,      /* likely the same sowing or hand-over recorded twice */
                COT_FLAG_OVER = 4,      /* more went out or was lost than the stand had: the stand was raised to it */
                COT_FLAG_SAME_CODE = 8, /* two things carry one code */
                COT_FLAG_UNCLEAR_DAY =
                    16 /* a day before its batch was sown, or after the entry's receipt by more than a day */
};
struct cot_note {
    struct cot_id digest; /* of the entry */
    const struct cot_fact *fact;
    int64_t position, receipt;
    enum cot_verdict verdict;
    unsigned flags;
    char reason[160];    /* in a grower's words; "" when booked without flags */
    struct cot_id other; /* the other entry of a clash or twin; zero if none */
};
/* Every entry whose verdict is not BOOKED or that has flags, in order of place. */
const struct cot_note *cot_book_notes(struct cot_book *b, size_t *n);
/* What became of one entry; false when it is not in the book. */
bool cot_book_verdict(struct cot_book *b, const struct cot_id *digest, struct cot_note *out);
/* All entries about a thing (its making first, then in order of place). */
const struct cot_note *cot_book_history(struct cot_book *b, const struct cot_id *thing, size_t *n);
/* All booked entries of a kind, in order of place. NULL with *n = 0 when there is none (or out of memory). */
const struct cot_note *cot_book_of_kind(struct cot_book *b, enum cot_kind kind, size_t *n);

/* --- Digest ---------------------------------------------------------------------------------------------------------
 */
/* Streams the book's facts and verdicts, without unsent entries, as canonical bytes in identity order; the wire hashes
 * them. Grammar in docs/protocol.md, "The book's digest". */
typedef void cot_sink(void *ctx, const void *bytes, size_t len);
COT_MUSTCHECK enum cot_err cot_book_canon(struct cot_book *b, cot_sink *sink, void *ctx);

#endif
