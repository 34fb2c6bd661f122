/* The working day: what there is to do from the plan, the batches and the orders. A reading of the book; what is done
 * is recorded by the ordinary entries, and a job that is recorded is on no list any more. */
#ifndef COTYLEDGER_CORE_TODAY_H
#define COTYLEDGER_CORE_TODAY_H

#include "cotyledger/core/fill.h"

enum cot_today_sort {                  /* in the order of the list */
                      COT_TODAY_TRAYS, /* fill trays with mix and press the cells */
                      COT_TODAY_SOW,
                      COT_TODAY_UP, /* move out of the germination chamber */
                      COT_TODAY_COUNT,
                      COT_TODAY_PATCH, /* blanks from doubles */
                      COT_TODAY_THIN,  /* doubles that fill no blank */
                      COT_TODAY_POT_ON,
                      COT_TODAY_HARDEN, /* move to a cold frame */
                      COT_TODAY_PULL    /* for collecting */
};

#define COT_TODAY_WHICH 12 /* trays named for one count, at most */
#define COT_TODAY_LATE 21  /* days; what is later than this is on no list */
struct cot_today_job {
    enum cot_today_sort sort;
    int32_t day;                                           /* when it is due */
    int32_t late;                                          /* days past it, on the first day of the list; 0: not late */
    const struct cot_thing *planned, *batch, *line, *farm; /* NULL where it has none */
    const struct cot_thing *variety, *lot, *format, *plate; /* format: of TRAYS and POT_ON the one to be filled */
    int64_t trays, rows, plants, per_cell; /* trays 0: not known; plants: of a pull what is to go, of a patch or
                                              thinning cells seen, of trays counted alone */
    const char *bench;                     /* where to, or where it stands; "" when not said */
    int32_t which[COT_TODAY_WHICH];        /* trays to count, rising */
    int32_t which_count;
    bool treated;
    bool again; /* a count: some were counted before */
};
struct cot_today {
    int32_t from, to;          /* days, both in */
    struct cot_today_job *job; /* by day (late ones with the first), then sort; sowings in the order of fewest plate
                                  changes, others by bench and code */
    size_t jobs;
};
/* Jobs due from `from` to `to`, and those of up to COT_TODAY_LATE days before that are not recorded. What needs the
 * plants' state (counts, patching, pulls) is read as of `from`. Errors: MEMORY; INVALID: no house. Free in any case. */
COT_MUSTCHECK enum cot_err cot_today_read(struct cot_book *b, int32_t from, int32_t to, struct cot_today *out,
                                          struct cot_fault *fault);
void cot_today_free(struct cot_today *t);

/* `n` different tray numbers of 1 .. trays, rising: drawn from the batch's identity, the same on every laptop, so that
 * nobody picks the good ones. Returns how many (at most `trays`, and COT_TODAY_WHICH). */
int32_t cot_today_draw(const struct cot_id *batch, int32_t trays, int32_t n, int32_t out[static COT_TODAY_WHICH]);

#endif
