/* Reading stands of many batches: what they share is read once. */
#ifndef COT_CORE_STAND_H
#define COT_CORE_STAND_H

#include "book/handovers.h"
#include "stand/calc.h"

/* A batch potted on out of another: plants taken from the parent. */
struct cot_child {
    struct cot_id parent;
    int32_t day;
    struct cot_place place;
    int64_t plants;
};

struct cot_stand_shared {
    struct cot_book *book;
    int32_t on;
    int32_t confidence; /* per mille */
    int64_t assumed_seeds;
    struct cot_handover *handover;
    size_t handover_count;
    struct cot_child *child; /* by parent */
    size_t child_count;
    struct cot_past *past; /* what the house's batches teach; see past.h */
};
#define COT_CONFIDENCE_DEFAULT 900    /* "9 in 10" */
#define COT_ASSUMED_SEEDS_DEFAULT 100 /* house assumption */
#define COT_COUNT_DAYS_DEFAULT 14     /* house assumption, common practice, no source */
#define COT_PAST_DAYS_DEFAULT 21      /* days that plants stay fit to go: common practice, no source */
#define COT_POTTED_DAYS_LEAST 7       /* house assumption: days for plants potted on to root */

/* MEMORY; free in any case. */
COT_MUSTCHECK enum cot_err cot_stand_shared_read(struct cot_book *b, int32_t on, struct cot_stand_shared *out);
/* The same with the past of one crop alone; NULL: of every crop. */
COT_MUSTCHECK enum cot_err cot_stand_shared_read_crop(struct cot_book *b, const struct cot_thing *crop, int32_t on,
                                                      struct cot_stand_shared *out);
void cot_stand_shared_free(struct cot_stand_shared *s);

/* As cot_stand_read. */
COT_MUSTCHECK enum cot_err cot_stand_read_with(const struct cot_stand_shared *s, const struct cot_thing *batch,
                                               struct cot_stand *out);

struct cot_place cot_place_of(const struct cot_note *note);

#endif
