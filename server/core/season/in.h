/* What the steps of a season's plan share. */
#ifndef COT_CORE_SEASON_IN_H
#define COT_CORE_SEASON_IN_H

#include "cotyledger/core/fill.h"
#include "cotyledger/core/plate.h"
#include "cotyledger/core/raising.h"
#include "cotyledger/core/season.h"
#include "cotyledger/core/stages.h"

#define COT_SEASON_LOTS 16 /* tried for one group of lines */
#define COT_MEMO 512

/* A line on its way into a sowing. */
struct cot_wanting {
    struct cot_season_line l;
    struct cot_if_line asked;
    const struct cot_thing *sow_format; /* the tray it is sown in: the plug's when it is potted on */
    bool plugs;                         /* the variety is bought in as plugs: it has no other lots */
    const struct cot_thing *own;        /* the farm, where the seed's owner matters; else NULL */
    struct cot_window window;
    int64_t open; /* plants not given to a sowing yet */
};

/* Seed of one lot in one format by one plate. lot NULL: to be bought. */
struct cot_seeding {
    const struct cot_thing *lot, *plate;
    struct cot_sow sow;
    int64_t per_cell, at_least;
    int64_t stock; /* -1: not known */
    int32_t last;  /* day number, the last on which it may be sown */
    bool retest;
    struct { /* trays and potted trays by plants */
        int64_t plants, trays, pot;
    } memo[COT_MEMO];
};

struct cot_planning {
    struct cot_book *book;
    const struct cot_season_ask *ask;
    struct cot_season *out;
    struct cot_fault *fault;
    struct cot_fill fill;
    struct cot_days days;
    struct cot_calendar calendar;
    int32_t *closed;
    int32_t confidence;
    struct cot_wanting *want;
    uint32_t wants;
    int64_t *used; /* per lot of the book: seeds that the plan takes */
    size_t lots, sowing_room, part_room;
    const struct cot_id *released; /* planned sowings that are not kept */
    uint32_t released_count;
    const struct cot_thing *const *lot;
};

/* want.c: the lines, their formats and windows. */
COT_MUSTCHECK enum cot_err cot_season_wants(struct cot_planning *p);
/* Whether two may share a sowing. */
bool cot_season_alike(const struct cot_wanting *x, const struct cot_wanting *y);

/* seed.c: lots for a line, best first; the last is seed to buy. Returns how many. */
uint32_t cot_season_lots(struct cot_planning *p, const struct cot_wanting *w, struct cot_seeding *out);
/* Trays for so many plants (and larger trays of a second stage to *pot); -1: cannot be had. */
int64_t cot_season_trays(struct cot_planning *p, struct cot_seeding *s, const struct cot_wanting *w, int64_t plants,
                         int64_t *pot);
int64_t cot_season_seeds(struct cot_planning *p, const struct cot_seeding *s, int64_t trays);
/* The same for rows of one. */
int64_t cot_season_row_seeds(struct cot_planning *p, const struct cot_seeding *s, const struct cot_thing *format,
                             int64_t rows);
/* Plants to count on of so many trays. */
int64_t cot_season_yield(struct cot_planning *p, const struct cot_seeding *s, const struct cot_wanting *w,
                         int64_t trays, int64_t pot);
/* Rows of one tray that are enough; 0: a whole one. */
int64_t cot_season_rows(struct cot_planning *p, const struct cot_seeding *s, const struct cot_wanting *w,
                        int64_t plants);
size_t cot_season_lot_number(const struct cot_planning *p, const struct cot_thing *lot);

/* stand.c: planned sowings that stand take the lines they can. */
COT_MUSTCHECK enum cot_err cot_season_standing(struct cot_planning *p);
/* make.c: new sowings for what is left. */
COT_MUSTCHECK enum cot_err cot_season_make(struct cot_planning *p);
COT_MUSTCHECK enum cot_err cot_season_add(struct cot_planning *p, const struct cot_season_sowing *s,
                                          struct cot_season_sowing **out);
COT_MUSTCHECK enum cot_err cot_season_give(struct cot_planning *p, struct cot_season_sowing *s, uint32_t want,
                                           int64_t plants);
/* Days that serve all lines of the sowing; as the lot allows. */
void cot_season_days_of(struct cot_planning *p, const struct cot_season_sowing *s, struct cot_dayset *out);
/* lay.c: days, so that it fits. */
COT_MUSTCHECK enum cot_err cot_season_lay(struct cot_planning *p);
/* spots.c: chamber, bench and frame of each. */
COT_MUSTCHECK enum cot_err cot_season_place(struct cot_planning *p);

const char *cot_season_group(const struct cot_thing *crop);

#endif
