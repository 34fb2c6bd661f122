/* How many more trays to count: before a count, the fewest that will probably settle what hangs on the batch; after
 * one, whether another tray could still change anything. From what the stand says of the trays not looked at: what
 * they may show, and what would then be said of the rest (a pre-posterior analysis: Raiffa and Schlaifer 1961, Applied
 * Statistical Decision Theory, from memory). Plain figures; nothing allocated, but for the reading of a fill. */
#ifndef COTYLEDGER_CORE_COUNT_H
#define COTYLEDGER_CORE_COUNT_H

#include <stddef.h>

#include "cotyledger/core/fill.h"
#include "cotyledger/core/stand.h"

/* A verdict is settled when it is covered (the need is met with the house's confidence) or short (the likely plants do
 * not meet it). */
#define COT_COUNT_SETTLED 0.80 /* house assumption: trays are named that settle it with this probability */
#define COT_COUNT_CHANGES 0.05 /* house assumption: below this a further tray is not worth its while */
#define COT_COUNT_NEVER (-1)   /* counting every tray would not settle it: losses to come leave it open */

/* Of a batch's stand: trays not counted yet that can be, and what the verdict on `need` plants in all (handed over
 * included) is now. confidence per mille. */
int64_t cot_count_left(const struct cot_stand *s);
enum cot_fill_verdict cot_count_verdict(const struct cot_stand *s, int32_t confidence, int64_t need);

/* Probability that the verdict on `need` is settled once so many more whole trays, drawn at random, are counted; 0
 * trays: 1 or 0. NaN: trays below 0 or more than are left, need below 0, confidence outside 1..999. */
double cot_count_settles(const struct cot_stand *s, int32_t confidence, int64_t need, int64_t trays);
/* The fewest more trays with which that is at least COT_COUNT_SETTLED, taken to rise with the trays; 0: settled
 * already; COT_COUNT_NEVER. */
int64_t cot_count_trays(const struct cot_stand *s, int32_t confidence, int64_t need);
/* Probability that one more tray changes the verdict on any of the needs. 0 when none is left to count. */
double cot_count_changes(const struct cot_stand *s, int32_t confidence, const int64_t *need, size_t n);

/* What to count of one batch of a fill, for the lines that hang on it: those that it serves, and those of its variety
 * and format that are not full. A line's need is the number of the batch's plants that is as likely as the line is to
 * be full: exact where the batch alone serves it, and where several do as if each were the only one in doubt. */
struct cot_count_advice {
    int64_t left;                     /* trays not counted yet */
    int64_t trays;                    /* count so many more; 0: enough counted, or COT_COUNT_NEVER */
    const struct cot_fill_line *line; /* that is then settled with COT_COUNT_SETTLED; NULL: none is in doubt */
    double changes;                   /* probability that one more tray changes any verdict */
    size_t lines;                     /* that hang on the batch */
};
/* INVALID: no such batch. MEMORY. */
COT_MUSTCHECK enum cot_err cot_count_advise(const struct cot_fill *f, uint32_t batch, struct cot_count_advice *out);

/* The other way round: what to count for one line in doubt. Of the batches that serve it and whose day for a stand
 * count has come, the one whose trays not counted are the most open (largest variance of their plants), since counting
 * those takes most of the doubt away; where that cannot settle the line, the next. Its trays are the batch by batch
 * figure, as above: as if that batch alone were in doubt. With `several` open it is the least that is worth counting,
 * no promise that no other needs to be. */
struct cot_count_line {
    uint32_t batch; /* index into the fill's batches; only where trays > 0 */
    int64_t trays;  /* whole trays more; 0: nothing to say; COT_COUNT_NEVER: all of all its batches are counted */
    bool several;   /* other batches that serve it have trays not counted too */
};
void cot_count_for_line(const struct cot_fill *f, uint32_t line, struct cot_count_line *out);

#endif
