/* Planning: on which days a line may be sown, how lines become few batches, and how batches are laid over the season
 * so that nothing overflows and the benches are used evenly.
 *
 * On plain figures: nothing of the book, nothing allocated, whole numbers only. What is large works in a workspace that
 * the caller gives, aligned as malloc aligns; a function says how many bytes. The same figures give the same plan on
 * every machine. Days of a plan are numbered 0 .. days-1 from the first day of its horizon. */
#ifndef COTYLEDGER_CORE_PLAN_H
#define COTYLEDGER_CORE_PLAN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "cotyledger/core/err.h"

/* --- Days --- */
#define COT_PLAN_DAYS 448 /* of a horizon, at most */
#define COT_DAYSET_WORDS (COT_PLAN_DAYS / 64)

/* A set of days of the horizon: day i is bit i % 64 of word i / 64. All zero: empty. */
struct cot_dayset {
    uint64_t word[COT_DAYSET_WORDS];
};
/* i in 0 .. COT_PLAN_DAYS-1. */
void cot_dayset_add(struct cot_dayset *s, int32_t i);
void cot_dayset_range(struct cot_dayset *s, int32_t from,
                      int32_t to); /* adds from .. to, both in; cut to what there is */
bool cot_dayset_have(const struct cot_dayset *s, int32_t i);
bool cot_dayset_empty(const struct cot_dayset *s);
int32_t cot_dayset_count(const struct cot_dayset *s);
int32_t cot_dayset_next(const struct cot_dayset *s, int32_t from);                  /* first day >= from; -1: none */
int32_t cot_dayset_last(const struct cot_dayset *s);                                /* -1: none */
void cot_dayset_both(struct cot_dayset *s, const struct cot_dayset *other);         /* keeps what is in both */
void cot_dayset_either(struct cot_dayset *s, const struct cot_dayset *other);       /* adds the other's */
bool cot_dayset_within(const struct cot_dayset *s, const struct cot_dayset *other); /* every day of s is the other's */
bool cot_dayset_meet(const struct cot_dayset *s, const struct cot_dayset *other);

/* The horizon and the days on which people work in it, before it and after it. */
struct cot_calendar {
    int32_t first, days;   /* day number (day.h) of day 0; 1 .. COT_PLAN_DAYS */
    unsigned weekdays;     /* bit 0 Monday .. bit 6 Sunday: worked */
    const int32_t *closed; /* day numbers on which nobody works all the same, rising */
    size_t closed_count;
};
bool cot_calendar_works(const struct cot_calendar *c, int32_t day);
void cot_calendar_working(const struct cot_calendar *c, struct cot_dayset *out);

/* --- Windows --- */
/* How a crop is raised when it is sown on a given day; days. Two stages when plug > 0: potted on into larger cells on
 * the first working day `plug` to `plug_max` days after sowing, and `ready`, `past` count from that day. */
struct cot_raise {
    int32_t chamber;        /* in the germination chamber, 0 .. 60; 0: not in it */
    int32_t plug, plug_max; /* 0 .. 365, plug <= plug_max; 0 and 0: one stage */
    int32_t ready, past;    /* ready after, past use after; 1 .. 365, ready <= past */
    int32_t harden;         /* the last so many days before ready, outside; 0 .. ready */
};
/* By season: fills *out for sowing on day number `day`. */
typedef void cot_raise_on(void *ctx, int32_t day, struct cot_raise *out);

/* What sowing on a day leads to; day numbers. */
struct cot_stages {
    int32_t sown, up, potted, harden, ready, past; /* potted: COT_DAY_NONE in one stage; up == sown without chamber */
};
/* True when it can be sown then: people work on that day, on the day when the stack comes up, and on the potting-on
 * day. *out is filled in any case but that no potting-on day is worked. */
bool cot_raise_stages(const struct cot_calendar *c, const struct cot_raise *r, int32_t day, struct cot_stages *out);

struct cot_wish {
    int32_t date, early, late; /* collecting day; days earlier and later that will do, 0 .. 60 */
    int32_t from;              /* first day number on which it can still be sown */
};
enum cot_window_why {
    COT_WINDOW_OPEN,
    COT_WINDOW_GONE,   /* it had to be sown before `from` or before the horizon */
    COT_WINDOW_BEYOND, /* it has to be sown after the horizon */
    COT_WINDOW_CLOSED, /* on the days that would do, people do not work when they must */
    COT_WINDOW_NEVER   /* no day leads to the date: too early is past use, a day later is too late */
};
struct cot_window {
    struct cot_dayset days;
    int32_t first, last; /* of `days`; -1: none */
    enum cot_window_why why;
};
/* Sowing days s of the horizon that lead to plants ready no later than date + late and not past use before date -
 * early. INVALID: a horizon, mask, wish or raising out of range. */
COT_MUSTCHECK enum cot_err cot_window_of(const struct cot_calendar *c, const struct cot_wish *w, cot_raise_on *raise,
                                         void *ctx, struct cot_window *out, struct cot_fault *fault);

/* --- Fewest that serve all --- */
/* The fewest columns (days, plates) of which every row (line, sowing) has one. A row's columns are a set of days.
 *  - Rows that are runs of one order of days, as windows cut from the same working days are: the end of the row that
 *    ends first is taken, again and again; fewest (interval stabbing).
 *  - Else branch and bound on the rows that are left when supersets of others and beaten columns are gone: proved,
 *    unless more than COT_HIT_STEPS were needed.
 *  - Beyond that the greedy choice, with the bound that rows without a common column give. */
#define COT_HIT_STEPS 20000000 /* looks at a row: about half a second */
#define COT_HIT_FEW 40         /* up to so many columns ten times as many */
#define COT_HIT_ROWS 20000
struct cot_hit {
    struct cot_dayset chosen;
    int32_t count, bound; /* columns chosen; no choice has fewer than `bound` */
    bool proved;          /* count == bound */
};
size_t cot_hit_bytes(uint32_t rows);
/* Rows without a column are left out. INVALID: more rows than COT_HIT_ROWS. */
COT_MUSTCHECK enum cot_err cot_hit_all(const struct cot_dayset *row, uint32_t rows, void *space, struct cot_hit *out,
                                       struct cot_fault *fault);

/* --- Grouping --- */
/* Lines of one variety, format and seed class, in queue order. */
struct cot_group_line {
    struct cot_dayset days; /* its window; empty: left out and counted in `hopeless` */
    int64_t plants;         /* 1 .. 10,000,000 */
};
struct cot_group_lot { /* in the order in which they are used up: the oldest good one first */
    int64_t seeds;     /* on hand, -1: not known, taken as enough */
    int32_t last;      /* last day of the plan on which it may be sown (use by); INT32_MAX: any */
};
#define COT_LOT_BUY UINT32_MAX /* seed that is not on hand */

struct cot_group_ask {
    const struct cot_group_line *line;
    uint32_t lines;
    const struct cot_group_lot *lot;
    uint32_t lots;
    /* Trays for so many plants of a sum of lines at the house's confidence (sow.h), and seeds for so many trays; both
     * rise. A lot may be COT_LOT_BUY. Below 0: cannot be done, the grouping ends as INVALID. */
    int64_t (*trays)(void *ctx, uint32_t lot, int64_t plants);
    int64_t (*seeds)(void *ctx, uint32_t lot, int64_t trays);
    /* May be NULL. Asked where one tray is enough: rows of it that are; 0: a whole tray. */
    int64_t (*rows)(void *ctx, uint32_t lot, int64_t plants);
    void *ctx;
    int64_t most_trays; /* of one batch; 0: no limit */
};
struct cot_group_part {
    uint32_t line;
    int64_t plants; /* of the line, that the batch is sown for */
};
struct cot_group_batch {
    struct cot_dayset days; /* that serve all its lines */
    uint32_t lot;           /* COT_LOT_BUY: seed to buy */
    int64_t plants, trays, seeds;
    int64_t rows; /* of a shared tray; 0: whole trays */
    uint32_t first_part, parts;
};
struct cot_group {
    struct cot_group_batch *batch; /* the caller's, `batch_room` of them */
    uint32_t batches, batch_room;
    struct cot_group_part *part; /* the caller's, `part_room` */
    uint32_t parts, part_room;
    struct cot_hit fewest; /* sowing days needed, before lots and most_trays split batches */
    uint32_t hopeless;
};
#define COT_GROUP_LOTS 256
size_t cot_group_bytes(uint32_t lines);
/* Fewest sowing days first; then lines go, where they may go to several, so that trays are fewest and then the days
 * left to choose from most (one line at a time: not the best of all ways). Then lots: each batch, earliest first, from
 * the first lot that may still be sown on one of its days, until that lot has no seed for another plant. Line order is
 * kept. lines x (lots + 1) + lines batches and parts are room enough without most_trays.
 * INVALID: figures out of range; TOO_LARGE: the rooms given do not do. */
COT_MUSTCHECK enum cot_err cot_group_lines(const struct cot_group_ask *ask, void *space, struct cot_group *out,
                                           struct cot_fault *fault);

/* Rows of batches sown on one day in one format put into shared trays: tray[i] is batch i's, counted from 0. First fit
 * by falling rows; no batch is cut. `bound`: no way has fewer. First fit decreasing takes at most 11/9 of the fewest
 * and 6/9 more (Dosa 2007, The tight bound of first fit decreasing bin-packing algorithm; from memory). INVALID: rows
 * not in 1 .. tray_rows, tray_rows not in 1 .. 200, n over COT_SHARE_MOST. */
#define COT_SHARE_MOST 512
COT_MUSTCHECK enum cot_err cot_share_rows(const int64_t *rows, uint32_t n, int64_t tray_rows, uint32_t *tray,
                                          uint32_t *trays, uint32_t *bound, struct cot_fault *fault);

/* --- Levelling --- */
#define COT_LEVEL_RESOURCES 16
#define COT_LEVEL_BATCHES 20000
#define COT_LEVEL_PLATES 256
#define COT_LEVEL_AMOUNT 1000000 /* of one use */
#define COT_LEVEL_SUM 4000000000 /* of all uses */
#define COT_LEVEL_ROOM 200000000 /* of a resource on a day */

/* So many spots of a resource on days from .. to-1, counted from the sowing day, or days of the plan where the flag
 * says so: trays stand on the bench from sowing + chamber days until the collecting day, whenever they were sown. What
 * falls outside the horizon is not counted. */
enum { COT_USE_FROM_DAY = 1, COT_USE_TO_DAY = 2 };
struct cot_use {
    uint32_t resource;
    int32_t from, to; /* -1000 .. 1000 */
    unsigned fixed;   /* COT_USE_FROM_DAY, COT_USE_TO_DAY */
    int64_t amount;   /* 0 .. COT_LEVEL_AMOUNT */
    /* Where season or days off make it uneven: day of the plan for each sowing day, `days` of them; before `from`,
     * `to`. NULL: none. */
    const int32_t *from_on, *to_on;
};
struct cot_level_batch {
    const struct cot_use *use;
    uint32_t uses;
    struct cot_dayset days; /* possible; one: pinned */
    int32_t standing;       /* day it has in the standing plan; -1: none */
    int32_t plate;          /* 0 .. COT_LEVEL_PLATES-1; -1: none, by hand */
    uint32_t queue;         /* who was first, from 1: the higher gives way first, ties by index; 0: never gives way */
};
struct cot_resource {
    const int64_t *room; /* spots on each day, 0 .. COT_LEVEL_ROOM; -1: no limit. NULL: none has */
    bool levelled;       /* the highest use of its room is to be as low as possible */
};
struct cot_level_ask {
    int32_t days; /* of the horizon */
    const struct cot_resource *resource;
    uint32_t resources;
    const struct cot_level_batch *batch;
    uint32_t batches;
    bool keep_close; /* as few batches as possible leave their standing day; then the peak */
    int32_t effort;  /* passes over all batches for each of seven ways to count high use; 0: as usual, most 1000 */
};
struct cot_lack {
    uint32_t resource;
    int32_t from, to; /* days of the plan, both in */
    int64_t spots;    /* lacking on the worst of them */
};
#define COT_LACKS_MOST 64
/* Parts in a million of the room. */
struct cot_level {
    int32_t *day; /* the caller's, one a batch: day of the plan; -1: gave way */
    uint32_t gave_way;
    int64_t peak, bound; /* highest use of a levelled room, rounded up, and what no plan of these batches stays below,
                            rounded down; 1,000,000: full. 0: nothing is levelled. Both without those that gave way */
    int64_t gap;         /* (peak - bound) / bound, parts in a million, rounded up; -1: nothing is known of it */
    int64_t over;        /* spots and days over the room, of batches that never give way; else 0 */
    uint32_t peak_resource;
    int32_t peak_day;                     /* the first such; -1: none */
    int64_t plate_changes, moved, slack;  /* distinct plates a day less one, summed; batches not on their standing day;
                                             days between chosen and last possible, summed */
    struct cot_lack lack[COT_LACKS_MOST]; /* what would have to be there so that none gives way, as the plan with all
                                             of them found it; 0: all fit */
    uint32_t lacks;
    bool lacks_more; /* there are more than fit into the list */
};
size_t cot_level_bytes(const struct cot_level_ask *ask);
/* Chooses days so that, in this order, no room overflows, the peak is low, plate changes are few (with keep_close:
 * batches moved are few before the peak), slack is long. If not all fit, batches give way from the end of the queue,
 * and those that fit again come back in queue order. A local search, not an exact one: `bound` says how far from the
 * best it can be at most. With prices u >= 0 a spot and day every plan has
 *     peak x sum of u x room  >=  sum of u x use  >=  sum over batches of its cheapest possible day,
 * exact in whole numbers; prices on rooms that must only not overflow may be taken along (Lagrange).
 * INVALID: figures out of range, a batch without a possible day; TOO_LARGE. */
COT_MUSTCHECK enum cot_err cot_level_plan(const struct cot_level_ask *ask, void *space, struct cot_level *out,
                                          struct cot_fault *fault);
/* Use of a resource by day under a plan: use[i], i < ask->days. */
void cot_level_use(const struct cot_level_ask *ask, const int32_t *day, uint32_t resource, int64_t *use);

#endif
