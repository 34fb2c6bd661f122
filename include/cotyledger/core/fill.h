/* Fill: which batches serve which lines, how sure that is, and what is short.
 *
 * A batch may serve a line when the variety is the line's or one of its substitutes, the format fits ("any" fits all),
 * the plants are ready no later than date + late and not past use before date - early or the as-of day, the lot's seed
 * class is what the line asks for, a farm's own seed serves that farm only, and the batch is not held. Hand-overs made
 * are fixed first. Substitutes come only from what is spare after every line that asked for that variety.
 *
 * Plain form of sharing: first promised, first served. The likely supply (median of each batch) is allotted; the chance
 * is the share of COT_FILL_LEVELS equally likely supplies, spread by a rank-1 lattice over the batches, in which the
 * same rule fills the line; count on is the plants that hold in the house's share of them.
 *
 * Queue: every rise of a line's promise is a claim of its own, at (receipt, place) of that promise; not sent yet: last.
 * A promise cut back cuts the latest claims. A refusal says no to what is not promised and takes no promise back.
 * Claims of a line together never exceed what it wants; what was handed over meets its first claims. Plants not
 * promised get no supply. A claim never takes from an earlier one, but which batch serves an earlier one may change to
 * make room, so that no supply that somebody could use is stranded. Second pass, from what is spare after all of that:
 * substitutes, and organic seed for a line that did not ask for it. A batch whose ready day is unknown fits any date
 * from its sowing on.
 */
#ifndef COTYLEDGER_CORE_FILL_H
#define COTYLEDGER_CORE_FILL_H

#include "cotyledger/core/stand.h"

#define COT_FILL_LEVELS 1021

enum cot_fill_verdict { COT_COVERED, COT_SHORT, COT_IN_DOUBT };

struct cot_allot {
    uint32_t line, batch; /* indices into the report's lines and stands */
    int64_t plants;       /* still to be handed over from this batch */
    bool substitute;
};

struct cot_fill_line {
    const struct cot_thing *line;
    const struct cot_thing *farm, *variety, *format; /* format NULL: any */
    int32_t date;                                    /* promised date if other than asked */
    int64_t wanted;   /* plants asked for (trays turned into plants); 0, and in doubt: trays of no format named */
    int64_t promised; /* of them promised by the house: what queues */
    int64_t handed;   /* already handed over, refused taken off */
    int64_t allotted; /* likely supply still to come; handed + allotted <= wanted */
    int64_t likely;   /* handed + allotted */
    int64_t count_on; /* with the house's confidence */
    double chance;    /* that the line is full, rounded to 1e-9 */
    enum cot_fill_verdict verdict;
    int64_t short_by;  /* wanted - likely, never below 0 */
    bool waiting;      /* not promised yet: wanted > promised */
    bool request;      /* a change waits for the house's word */
    bool least_missed; /* likely below the least worth having */
    bool declined;     /* the house said no to what is not promised */
    int32_t asked;     /* the date asked for; differs from `date` when the house promised another */
};

struct cot_fill_farm {
    const struct cot_thing *farm;
    uint32_t first_line, line_count;          /* lines are sorted by farm name, date, variety, code */
    int64_t wanted, handed, likely, count_on; /* count_on of the sum */
    uint32_t covered, in_doubt, short_;
};

struct cot_fill {
    int32_t on;         /* as-of day */
    int32_t confidence; /* per mille */
    struct cot_fill_line *line;
    uint32_t line_count;
    struct cot_stand *stand;
    const struct cot_thing **batch; /* beside `stand` */
    uint32_t batch_count;
    struct cot_allot *allot; /* sorted by line, then own variety first, then older batch */
    uint32_t allot_count;
    struct cot_fill_farm *farm;
    uint32_t farm_count;
};

/* Reads the book as of day `on`. The caller frees with cot_fill_free; things belong to the book.
 * Errors: MEMORY; INVALID when the book has no house yet. */
COT_MUSTCHECK enum cot_err cot_fill_read(struct cot_book *b, int32_t on, struct cot_fill *out);
void cot_fill_free(struct cot_fill *f);
const char *cot_fill_word(enum cot_fill_verdict v); /* "covered", "short", "in doubt" */

/* Hand-overs booked by `on`, for whoever writes the invoice; sorted by day, farm's name, line's and batch's code. The
 * caller frees `*rows` with free(). Errors: MEMORY. */
struct cot_handover_row {
    const struct cot_thing *handover, *line, *farm, *batch, *variety, *format;
    int32_t day;
    int64_t trays, plants; /* as they went out */
    int64_t refused;       /* of the plants brought back: not fit to go */
    int64_t back;          /* of the plants brought back: usable, so in the batch again */
    int64_t owed;          /* empty trays owed for it */
};
COT_MUSTCHECK enum cot_err cot_handovers_read(struct cot_book *b, int32_t on, struct cot_handover_row **rows,
                                              size_t *n);

#endif
