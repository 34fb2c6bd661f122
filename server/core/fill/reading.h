/* Everything one reading of a fill needs, so that one place frees it. */
#ifndef COT_CORE_FILL_READING_H
#define COT_CORE_FILL_READING_H

#include "fill/chance.h"
#include "fill/lines.h"
#include "stand/stand.h"

/* An edge on its way into order of preference. */
struct cot_pick {
    struct cot_edge edge;
    uint32_t sub;  /* 0: own variety; 1 ..: the n-th substitute */
    bool own_seed; /* the farm's own */
    int32_t ready;
    int64_t there; /* likely supply: small batches are used up first, so that fewer left-overs remain */
};

struct cot_reading {
    struct cot_stand_shared shared;
    struct cot_lines lines;
    struct cot_fill *out;
    const struct cot_what_if *change;
    const struct cot_thing *house;
    struct cot_pick *pick; /* in order of line and preference */
    size_t pick_count;
    struct cot_edge *edge;
    struct cot_wish *wish; /* one a line */
    struct cot_claim *claim;
    struct cot_sharing sharing;
    int64_t *supply;     /* per batch */
    int64_t *left;       /* per batch, of it */
    int64_t *extra;      /* per edge */
    uint32_t *component; /* per batch */
    uint32_t *farm_of;   /* per line */
    struct cot_supplies supplies;
    struct cot_prospect *prospect; /* per line */
    struct cot_party farm;
    uint32_t *batch_lacking; /* per batch: supplies in which one of its lines lacks something */
    bool *changed;           /* per batch: its stand is not the base's */
    /* Of one who asks many what-ifs; see kept.h. */
    struct cot_fill_kept *keep;       /* what is found goes there */
    const struct cot_fill_kept *from; /* what was found before, of the book without a change; NULL */
    bool *known, *wanted;             /* per component, per batch; with `from` */
};

/* n things of a size, cleared; at least one. NULL when out of memory. */
void *cot_room(size_t n, size_t size);
/* Fills r->pick. MEMORY. */
COT_MUSTCHECK enum cot_err cot_find_picks(struct cot_reading *r);
/* Fills chances, numbers to count on, verdicts and farms from the prospects. */
void cot_fill_judge(struct cot_reading *r);

#endif
