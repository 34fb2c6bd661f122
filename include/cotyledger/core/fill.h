/* Fill: which batches serve which lines, how sure that is, and what is short.
 *
 * A batch may serve a line when the variety is the line's or one of its substitutes, the format fits ("any" fits all),
 * the plants are ready no later than date + late and not past use before date - early or the as-of day, the lot's seed
 * class is what the line asks for, a farm's own seed serves that farm only, and the batch is not held. Hand-overs made
 * are fixed first. A batch whose ready day is unknown fits any date from its sowing on.
 *
 * Queue: every rise of a line's promise is a claim of its own, at (receipt, place) of that promise; not sent yet: last.
 * A promise cut back cuts the latest claims. A refusal says no to what is not promised and takes no promise back.
 * Claims of a line together never exceed what it wants; what was handed over meets its first claims. Plants not
 * promised get no supply.
 *
 * Rules of sharing (the house's `share`), on the likely supply (median of each batch):
 *   first     each claim in turn gets as much as there is without an earlier one losing; which batch serves an earlier
 *             claim may change to make room, so that no supply that somebody could use is stranded;
 *   priority  the same, lines of priority 1 before those of 2 and so on; a line without one comes last;
 *   prorata   the lexicographic max-min of (handed + allotted) / promised over the lines, in exact rationals.
 * In two passes under each of them: first the lines' own varieties and seed classes, then, from what nobody wanted who
 * asked for it, substitutes, and organic seed for lines that did not ask for it.
 * Amounts are whole hand-over units (house's `unit`), or all that was promised. Under `prorata` the exact share is
 * rounded down to the unit, and what is left over goes out one unit a line: least filled first, then by largest part
 * cut off, then by queue, passing over a line whose unit cannot be had.
 * A line that would get less than its least worth having gets nothing, and the others share anew without it: under
 * first and priority the earliest such line in the queue goes first, under prorata the latest. A promise below the
 * least stands as the house gave it: then that is the least.
 * After all of that a last unit that is only part wanted is made whole from what is spare (`extra`).
 * Which batch serves a line: own variety, own seed, older, smaller first; then lines change places in batches that are
 * equally good for them as long as that leaves fewer lines with plants of several batches, so fewer split trays.
 *
 * Chance, count on: the same rule over every possible supply. Batches of one lot go up and down together by their
 * stands' `shared` (a Gaussian copula), others on their own. Where one batch alone may serve a group of lines, the sum
 * over that batch's own distribution, to 1 / 131072 at each supply at which a line turns full (of a batch of more than
 * COT_SOLE_LEVELS figures 1 / 8192: fill/supplies.h); else COT_FILL_LEVELS supplies spread evenly (levels.h): off by
 * 0.0008 as a rule, by 0.0031 at most in 800 random houses
 * (tests/core/fill/chance_test.c; with half as many supplies by 0.0057).
 */
#ifndef COTYLEDGER_CORE_FILL_H
#define COTYLEDGER_CORE_FILL_H

#include "cotyledger/core/stand.h"

#define COT_FILL_LEVELS 8191

enum cot_fill_verdict { COT_COVERED, COT_SHORT, COT_IN_DOUBT };
enum cot_share_rule { COT_SHARE_FIRST, COT_SHARE_PRIORITY, COT_SHARE_PRORATA }; /* in the order of the field's words */

struct cot_allot {
    uint32_t line, batch; /* indices into the report's lines and stands */
    int64_t plants;       /* still to be handed over from this batch; `extra` not among them */
    int64_t extra;        /* beside them, to make a unit whole */
    bool substitute;
};

struct cot_fill_line {
    const struct cot_thing *line;                    /* NULL: the line of a what-if that is not in the book */
    const struct cot_thing *farm, *variety, *format; /* format NULL: any */
    int32_t date;                                    /* promised date if other than asked */
    int64_t wanted;   /* plants asked for (trays turned into plants); 0, and in doubt: trays of no format named */
    int64_t promised; /* of them promised by the house: what queues */
    int64_t handed;   /* already handed over, refused taken off */
    int64_t allotted; /* likely supply still to come; handed + allotted <= wanted */
    int64_t extra;    /* plants beside that, to make the last unit whole */
    int64_t unit;     /* hand-over unit, plants, at least 1 */
    int64_t likely;   /* handed + allotted */
    int64_t count_on; /* with the house's confidence */
    double chance;    /* that the line is full, rounded to 1e-9 */
    enum cot_fill_verdict verdict;
    int64_t short_by;  /* wanted - likely, never below 0 */
    bool waiting;      /* not promised yet: wanted > promised */
    bool request;      /* a change waits for the house's word */
    bool least_missed; /* likely below the least worth having */
    bool passed_over;  /* it would have got less than its least, so gets nothing */
    bool declined;     /* the house said no to what is not promised */
    int32_t asked;     /* the date asked for; differs from `date` when the house promised another */
};

struct cot_fill_batch { /* beside `stand` */
    int64_t allotted;   /* likely supply given to lines, extras not counted */
    int64_t extra;
    int64_t left;     /* of the likely supply: nobody's */
    int64_t count_on; /* plants to come that hold with the house's confidence */
    uint32_t lines;   /* lines it serves */
    double chance;    /* that all of those get what they are promised, rounded to 1e-9; 1 when it serves none */
};

struct cot_fill_farm {
    const struct cot_thing *farm;
    uint32_t first_line, line_count;          /* lines are sorted by farm name, date, variety, code */
    int64_t wanted, handed, likely, count_on; /* count_on of the sum */
    int64_t extra;
    int64_t own_left; /* likely plants of the farm's own seed that none of its lines takes */
    double chance;    /* that all its lines are full, rounded to 1e-9 */
    double misses;    /* lines expected not to be full, rounded to 1e-9 */
    uint32_t covered, in_doubt, short_;
};

struct cot_fill {
    int32_t on;         /* as-of day */
    int32_t confidence; /* per mille */
    enum cot_share_rule share;
    struct cot_fill_line *line;
    uint32_t line_count;
    struct cot_stand *stand;
    const struct cot_thing **batch; /* beside `stand`; NULL: the batch of a what-if */
    struct cot_fill_batch *serves;  /* beside `stand` */
    uint32_t batch_count;
    struct cot_allot *allot; /* sorted by line, then own variety first, then older batch */
    uint32_t allot_count;
    struct cot_fill_farm *farm;
    uint32_t farm_count;
    double misses;     /* lines expected not to be full, rounded to 1e-9 */
    uint32_t if_line;  /* the line of the what-if; UINT32_MAX: none */
    uint32_t if_batch; /* the batch of the what-if; UINT32_MAX: none */
};

/* Reads the book as of day `on`. The caller frees with cot_fill_free; things belong to the book.
 * Errors: MEMORY; INVALID when the book has no house yet. */
COT_MUSTCHECK enum cot_err cot_fill_read(struct cot_book *b, int32_t on, struct cot_fill *out);
void cot_fill_free(struct cot_fill *f);
/* The line's row; NULL when there is none. */
const struct cot_fill_line *cot_fill_line_of(const struct cot_fill *f, const struct cot_id *line);
const char *cot_fill_word(enum cot_fill_verdict v); /* "covered", "short", "in doubt" */

/* --- What if ---------------------------------------------------------------------------------------------------------
 * A change that is in nobody's book. Parts of it may be left at zero. Nothing is recorded; the book stays as it is. */
struct cot_if_line {
    const struct cot_thing *line; /* the standing line that changes; NULL: a new one */
    bool withdrawn;               /* the standing line is withdrawn: nothing more than what went out */
    /* What it is then, all of it (cot_if_line_of gives what stands). Promised at once: a rise over what is promised
     * queues last, a fall cuts the latest promises. */
    const struct cot_thing *farm, *variety, *format; /* format NULL: any */
    int32_t date;
    int64_t early, late;       /* days, 0 .. 60 */
    int64_t plants, least;     /* 0 .. 10,000,000; plants at least 1 unless withdrawn */
    const struct cot_id *subs; /* the caller's, best first */
    uint32_t sub_count;
    bool untreated, organic, own_seed;
    int64_t priority; /* 1 .. 9; 0: none */
};
struct cot_what_if {
    const struct cot_if_line *line;  /* NULL: lines stay as they are */
    const struct cot_stand *batch;   /* NULL, or a batch more: as cot_stand_read gives it, its `batch` zero */
    const struct cot_thing *release; /* NULL, or a batch on hold: as if it were released */
    const struct cot_thing *patch;   /* NULL, or a batch: as if it had ... */
    int64_t patch_plants;            /* ... so many usable plants more, 0 .. 10,000,000 */
    bool other_share;                /* the house shares by another rule: ... */
    enum cot_share_rule share;       /* ... this */
};
/* What stands of a line, trays turned into plants. Errors: INVALID: not an order line; MEMORY. */
COT_MUSTCHECK enum cot_err cot_if_line_of(struct cot_book *b, const struct cot_thing *line, struct cot_if_line *out);
/* cot_fill_read as if `change` were so (NULL: nothing). `fault` (may be NULL) says what is wrong with the change.
 * Errors: as cot_fill_read; INVALID: a change outside the ranges above, of a thing that is not what it should be, or of
 * a line that was withdrawn already. */
COT_MUSTCHECK enum cot_err cot_fill_read_if(struct cot_book *b, int32_t on, const struct cot_what_if *change,
                                            struct cot_fill *out, struct cot_fault *fault);
/* The same to the byte, faster: stands are taken from `base` (NULL: read), a reading of the same book and day before
 * any change of them. For one who asks many what-ifs. */
COT_MUSTCHECK enum cot_err cot_fill_read_again(struct cot_book *b, const struct cot_fill *base, int32_t on,
                                               const struct cot_what_if *change, struct cot_fill *out,
                                               struct cot_fault *fault);

/* For one who asks many what-ifs of one book and day about lines: cot_fill_read_if that also keeps what it found, and
 * what lines are under a change, `base` read without any, `kept` from a reading of the same book and day (the nearer
 * the change of that one, the more of it holds). Only batches and lines that the change touches, directly or through
 * others, are shared out again. Lines, stands and allotments are those of cot_fill_read_if to the byte; farms and the
 * chances of batches are not worked out, and stay 0. The caller frees `kept` (NULL is fine), also after an error.
 * Errors: as cot_fill_read_if. */
struct cot_fill_kept;
COT_MUSTCHECK enum cot_err cot_fill_read_kept(struct cot_book *b, int32_t on, const struct cot_what_if *change,
                                              struct cot_fill *out, struct cot_fill_kept **kept,
                                              struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_fill_lines_if(struct cot_book *b, const struct cot_fill *base,
                                             const struct cot_fill_kept *kept, const struct cot_what_if *change,
                                             struct cot_fill *out, struct cot_fault *fault);
void cot_fill_kept_free(struct cot_fill_kept *k);

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
