/* Order lines as the fill needs them: what is wanted, by when, and the claims that promises make. */
#ifndef COT_CORE_FILL_LINES_H
#define COT_CORE_FILL_LINES_H

#include "cotyledger/core/fill.h"
#include "book/handovers.h"
#include "stand/calc.h"

/* Plants promised at one point of the queue. */
struct cot_chunk {
    uint32_t line;   /* index into the lines */
    int64_t receipt; /* INT64_MAX: not sent yet */
    struct cot_place place;
    int64_t plants;
};

struct cot_line_in {
    struct cot_fill_line l; /* all but allotted, likely, count_on, chance, verdict, short_by, least_missed */
    const struct cot_id *farm_id;
    int64_t early, late, least;
    int64_t priority; /* 1 .. 9; COT_PRIORITY_NONE: none, last */
    bool gone;        /* withdrawn */
    bool untreated, organic, own_seed;
    const struct cot_id *subs;
    uint32_t sub_count;
};

#define COT_PRIORITY_NONE 10

struct cot_lines {
    struct cot_line_in *line; /* sorted by farm's name, date, variety's name, code */
    uint32_t line_count;
    struct cot_chunk *chunk; /* in queue order; what is still to be handed over of each */
    size_t chunk_count;
    uint32_t if_line; /* index of the changed line; UINT32_MAX: none */
};
/* `change` may be NULL. MEMORY. Free in any case. */
COT_MUSTCHECK enum cot_err cot_lines_read(struct cot_book *b, const struct cot_handover *h, size_t handovers,
                                          const struct cot_if_line *change, struct cot_lines *out);
void cot_lines_free(struct cot_lines *l);

/* --- On plain figures ------------------------------------------------------------------------------------------ */
/* One word of the house on a line: the total promised from then on; a refusal leaves that as it was. */
struct cot_said {
    int64_t receipt;
    struct cot_place place;
    int64_t total;
    bool refusal;
};
/* Sorts what was said into queue order and makes the line's chunks of it: a rise adds one, a fall cuts the latest. Then
 * cuts the latest to what is wanted, and takes what was handed over off the first. `chunk` has room for `n`; returns
 * how many there are. *promised: the total that stands, at most what is wanted. */
size_t cot_chunks_make(struct cot_said *said, size_t n, int64_t wanted, int64_t handed, struct cot_chunk *chunk,
                       int64_t *promised);
void cot_chunks_sort(struct cot_chunk *chunk, size_t n); /* into queue order */

#endif
