/* What the readings of remedies share: walking two fills side by side, and finding what might help a line. */
#ifndef COT_CORE_REMEDY_IN_H
#define COT_CORE_REMEDY_IN_H

#include "cotyledger/core/remedy.h"

#define COT_SUBS_MOST 8 /* as the field `subs` allows */

/* Lines of two fills of one book, side by side. Both are in one order, but for the line that a what-if changes. */
struct cot_beside {
    const struct cot_fill *before, *after;
    uint32_t next_before, next_after;
    const struct cot_thing *changed; /* the standing line that the what-if changes, else NULL */
    bool told;                       /* the what-if's line has been */
};
void cot_beside_start(const struct cot_fill *before, const struct cot_fill *after, const struct cot_what_if *change,
                      struct cot_beside *out);
/* The next pair; COT_NO_LINE where the line is not there. False at the end. */
bool cot_beside_next(struct cot_beside *w, uint32_t *before, uint32_t *after);
/* How a pair moved: adds it to the counts. `own`: the line itself was changed on purpose, so it cannot be harmed. */
void cot_beside_count(const struct cot_fill *before, const struct cot_fill *after, uint32_t i, uint32_t k, bool own,
                      uint32_t *rescued, uint32_t *harmed);

/* --- Candidates ------------------------------------------------------------------------------------------------- */
/* A remedy with the change that would show what it does. The change points into this, so it must not be moved. */
struct cot_try {
    struct cot_remedy remedy;
    struct cot_what_if change;
    struct cot_if_line line;
    struct cot_stand batch;
    struct cot_id subs[COT_SUBS_MOST + 1];
};

/* One line that needs help, with what its candidates need of the book. */
struct cot_need {
    struct cot_book *book;
    const struct cot_fill *fill;
    uint32_t index; /* of the line */
    const struct cot_fill_line *line;
    const int64_t *spare;           /* by batch: likely plants that no line gets */
    struct cot_if_line asked;       /* what stands of it */
    int64_t unsure;                 /* plants that count on lacks of what is wanted; at least 1 */
    int32_t first, last;            /* days on which it may be collected; first: not before the as-of day */
    const struct cot_thing *crop;   /* NULL when not known */
    const struct cot_thing *format; /* the one asked for, or for "any" the one that the variety is sown in */
    int64_t unsure_all;             /* of all lines that need help and want the same variety, format and days */
};

#define COT_TRIES_MOST 48 /* candidates of one line */
struct cot_tries {
    struct cot_try *item;
    uint32_t count;
};
/* A new candidate of that kind for the line, zeroed but for kind, line and last day; NULL when there are enough. */
struct cot_try *cot_try_add(const struct cot_need *need, struct cot_tries *out, enum cot_remedy_kind kind);

/* Each adds what it finds. */
void cot_try_batches(const struct cot_need *need, struct cot_tries *out); /* release, patch, format, variety, day */
void cot_try_word(const struct cot_need *need, struct cot_tries *out);    /* promise, share */
void cot_try_buying(const struct cot_need *need, struct cot_tries *out);
COT_MUSTCHECK enum cot_err cot_try_sowing(const struct cot_need *need, struct cot_tries *out);

bool cot_lot_treated(const struct cot_thing *lot);

#endif
