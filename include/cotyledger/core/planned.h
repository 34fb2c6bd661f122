/* A planned sowing held against what was sown for it. */
#ifndef COTYLEDGER_CORE_PLANNED_H
#define COTYLEDGER_CORE_PLANNED_H

#include "cotyledger/core/book.h"

enum cot_planned_state {
    COT_PLANNED_TO_COME, /* its day is not past, nothing was sown */
    COT_PLANNED_LATE,    /* its day is past, nothing was sown */
    COT_PLANNED_PART,    /* less was sown than planned */
    COT_PLANNED_DONE,    /* as much, or more */
    COT_PLANNED_DROPPED
};

/* Whole trays are counted in trays, rows of a shared tray in rows; a sowing of the other sort counts as a batch only.
 */
struct cot_planned_done {
    enum cot_planned_state state;
    bool rows; /* planned and sown are in rows of a shared tray, not in trays */
    int64_t planned, sown;
    int32_t batches;     /* sowings that name it, of `on` or before */
    int32_t day;         /* day to sow */
    int32_t first, last; /* days of the sowings; COT_DAY_NONE when there is none */
    int32_t late;        /* days from the day to sow to the first sowing, or to `on` while there is none and the day is
                          * past; negative: early; 0 as planned or to come */
    bool other;          /* a sowing was of another lot or format than planned */
};

/* Batches taken back do not count. Errors: NOT_FOUND (no planned sowing). */
COT_MUSTCHECK enum cot_err cot_planned_read(struct cot_book *b, const struct cot_thing *planned, int32_t on,
                                            struct cot_planned_done *out);

/* Pins are names of fields parted by blanks: "sow_day trays". Whether the field is among them. */
bool cot_pinned(const struct cot_thing *planned, enum cot_field f);

#endif
