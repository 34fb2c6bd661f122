/* The plan of a season: what is still to be sown for the order book, when, where and from which lot. A reading of the
 * book on plan.h, sow.h and plate.h; nothing is recorded by it.
 *
 * What a line still needs is what the fill leaves short of it (likely), or all of it while nothing is sown. Lines of
 * one variety, tray format and seed class make sowings together (plan.h, grouping); the lot is the oldest good one that
 * they may have, never beyond the seed on hand; what no lot has is to be bought. Days are chosen so that nothing
 * overflows and the benches are used evenly (plan.h, levelling). A crop that is potted on into the format ordered is
 * sown in the format of its raising days, each stage with its own days, cells and losses.
 *
 * Planned sowings that stand and are not sown yet are kept as far as their lines still need them; what a person pinned
 * stays in any case. */
#ifndef COTYLEDGER_CORE_SEASON_H
#define COTYLEDGER_CORE_SEASON_H

#include "cotyledger/core/place.h"
#include "cotyledger/core/plan.h"

struct cot_season_ask {
    int32_t on;         /* first day on which something can be sown */
    bool promised_only; /* lines that wait for the house's promise are left out */
    bool from_scratch;  /* nothing that is planned is kept, but for what is pinned */
    bool each_alone;    /* every line makes its own sowing: what planning them together saves */
};

enum cot_season_why { /* why a line is not planned for, or not in full */
                      COT_SEASON_PLANNED,
                      COT_SEASON_NO_DAYS,   /* the crop's days in the tray are not known */
                      COT_SEASON_NO_FORMAT, /* any format will do, and nothing says which is usual */
                      COT_SEASON_NO_TRAYS,  /* plants cannot be had at the house's confidence, or figures make no sense
                                             */
                      COT_SEASON_GONE,      /* it had to be sown before */
                      COT_SEASON_BEYOND,    /* it is too far ahead */
                      COT_SEASON_CLOSED,    /* people do not work on the days when they must */
                      COT_SEASON_NEVER,     /* too early is past use, a day later is too late */
                      COT_SEASON_NO_ROOM    /* its sowing gave way */
};
struct cot_season_line {
    const struct cot_thing *line, *farm, *variety, *format, *crop; /* format: that it is planned in */
    int32_t date;
    int64_t need;    /* plants that nothing sown serves */
    int64_t planned; /* of them served by the plan */
    enum cot_season_why why;
    uint32_t rank; /* place in the queue, from 0; lines not promised last */
    bool waiting;  /* not promised, or not in full */
};

#define COT_SEASON_SHARED "shared " /* in the name of a shared tray, before its number */
enum cot_season_change { COT_SEASON_KEPT, COT_SEASON_CHANGED, COT_SEASON_NEW, COT_SEASON_DROPPED };
struct cot_season_part {
    uint32_t line; /* of the lines */
    int64_t plants;
};
struct cot_season_sowing {
    enum cot_season_change change;
    const struct cot_thing *planned;                               /* that stands; NULL: a new one */
    const struct cot_thing *variety, *crop, *format, *lot, *plate; /* lot NULL: seed to buy; plate NULL: by hand */
    const struct cot_thing *pot_format;                            /* NULL: not potted on */
    int64_t plants, trays, rows, seeds, pot_trays;                 /* rows of a shared tray, beside trays 1; else 0 */
    int64_t per_cell, at_least;
    int64_t sown;         /* of a planned sowing that is begun: trays, or rows, sown already and not counted here */
    uint32_t shared;      /* the shared tray's number, from 1; 0: none */
    int32_t day, was_day; /* COT_DAY_NONE: gave way; day it had, COT_DAY_NONE: none */
    struct cot_stages stages;
    int32_t from, until; /* first and last collecting day of its lines */
    int32_t harden;      /* day on which it goes out, so that the first line collected has its days of hardening off;
                            COT_DAY_NONE: it is not hardened off */
    int32_t first, last; /* days on which it may be sown */
    const struct cot_thing *chamber, *bench, *frame; /* NULL: none has room for all of it, or there is none */
    bool plugs;                                      /* bought in: set, not sown */
    bool retest;                                     /* the lot's germination test is to be repeated */
    bool pinned;
    uint32_t first_part, parts;
};

struct cot_season_lack { /* room that would have to be there so that nothing gives way */
    enum cot_place_sort sort;
    bool sowing; /* trays sown on a day, not room */
    const char *group;
    int32_t from, to; /* day numbers */
    int64_t spots;
};

struct cot_season {
    int32_t on, days;             /* the horizon's first day and length */
    struct cot_season_line *line; /* with a need, in queue order */
    uint32_t line_count;
    struct cot_season_sowing *sowing; /* by day, then variety's name; those that gave way and dropped ones last */
    uint32_t sowing_count;
    struct cot_season_part *part;
    uint32_t part_count;
    struct cot_season_lack *lack;
    uint32_t lack_count;
    /* of all sowings of the plan, dropped ones and those that gave way left out */
    int64_t trays, seeds, bench_peak, plate_changes; /* trays: as sown; bench_peak: spots on the fullest day */
    int32_t peak_day;
    int64_t peak, bound, gap; /* as cot_level */
    uint32_t covered;         /* lines planned for in full */
    uint32_t kept, changed, fresh, dropped, moved;
};

/* Errors: MEMORY; INVALID: no house; TOO_LARGE: more than plan.h takes. Free in any case. */
COT_MUSTCHECK enum cot_err cot_season_plan(struct cot_book *b, const struct cot_season_ask *ask, struct cot_season *out,
                                           struct cot_fault *fault);
void cot_season_free(struct cot_season *s);
/* Whether a sowing that is planned already comes to another bench, or to another chamber or frame than it names. */
bool cot_season_other_place(const struct cot_season_sowing *s);
const char *cot_season_why_text(enum cot_season_why why); /* in a grower's words; "" when planned */

#endif
