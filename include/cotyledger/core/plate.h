/* Seeder plates: which fits a tray and a seed, the order of a day's sowings, the plates that a season needs.
 *
 * On plain figures, whole numbers, nothing allocated but in the workspace that the caller gives. Plates are numbered
 * 0 .. n-1 by the caller; a set of plates is a struct cot_dayset with plate numbers for days. */
#ifndef COTYLEDGER_CORE_PLATE_H
#define COTYLEDGER_CORE_PLATE_H

#include "cotyledger/core/plan.h"
#include "cotyledger/core/sow.h"

/* --- Does it fit --- */
struct cot_plate {
    int64_t cells;        /* filled at one drop, 1 .. 40000 */
    int64_t holes;        /* for a cell, 1 .. COT_HOLES_MOST */
    int64_t hole_um;      /* 0: not known */
    const char *pattern;  /* of its cells; NULL or "": not known */
    int64_t misses, twos; /* per mille of drops as the house found them; -1: not known */
};
struct cot_plate_format {
    int64_t rows, cols;
    const char *pattern; /* NULL or "": not known */
};
enum cot_plate_fit {
    COT_PLATE_FITS,
    COT_PLATE_PATTERN_UNKNOWN, /* the cells would fit, but a pattern is not known */
    COT_PLATE_OTHER_PATTERN,
    COT_PLATE_OTHER_CELLS /* the tray is not a whole number of drops */
};
/* Drops for a tray to *drops, 0 when the cells do not fit. */
enum cot_plate_fit cot_plate_fits(const struct cot_plate *p, const struct cot_plate_format *f, int64_t *drops);

/* --- Does it suit the seed --- */
/* A seed's diameter, as of a ball of 1.1 g/cm3 that weighs as much; um. Seeds (or pellets) in a gram, 1 .. 100000. The
 * density is common practice, no source; seed is no ball, which the range of holes allows for. */
int64_t cot_seed_um(int64_t seeds_per_g);
/* Holes that hold such seed singly, um: shares of the diameter by form and shape. Common practice, no source: the
 * house's own counts say more. 0 .. 0 when seeds_per_g is out of range. */
struct cot_hole_range {
    int64_t low, high;
};
struct cot_hole_range cot_hole_range(int64_t seeds_per_g, enum cot_seed_form form, enum cot_seed_shape shape);

struct cot_plate_wish {
    struct cot_plate_format format;
    int64_t per_cell;    /* seeds in a cell, 1 .. COT_HOLES_MOST */
    int64_t seeds_per_g; /* of the seed as it is sown, pellets and all; 0: not known */
    enum cot_seed_form form;
    enum cot_seed_shape shape;
};
struct cot_plate_offer {
    uint32_t plate;
    enum cot_plate_fit fit; /* FITS or PATTERN_UNKNOWN */
    int64_t drops;
    int64_t misses, twos; /* per mille of drops to be expected */
    bool guessed;         /* usual figures and not the house's own, or made worse by the hole */
    int64_t hole_off_um;  /* below 0: hole too small by so much, above: too large; 0: suits, or not known */
};
/* Plates that fit format and seeds in a cell, best first: known patterns first, then fewest misses and twos, then
 * fewest drops, then number. A hole outside the range costs COT_HOLE_COST per mille of misses (too small) or twos (too
 * large) for each hundredth of the diameter that it is off: a guess, no source. Returns how many; writes `room` at
 * most. */
#define COT_HOLE_COST 5
uint32_t cot_plate_offers(const struct cot_plate *plate, uint32_t plates, const struct cot_plate_wish *w,
                          struct cot_plate_offer *out, uint32_t room);

/* --- A day --- */
/* Sowings of a day, each with the plates that it may use (empty: by hand). The plate that is on needs no change. */
struct cot_plate_day {
    struct cot_hit fewest; /* plates put on, beside the one that is on */
    uint32_t changes;
    bool on_used; /* the plate that was on serves some */
    int32_t last; /* the plate that stays on; -1: none */
};
size_t cot_plate_day_bytes(uint32_t sowings);
/* Fewest changes, proved up to COT_HIT_STEPS; then the order: the plate that is on first, then plate by plate by its
 * first sowing, sowings by hand last, each in the order given. `cost` (may be NULL) has plates figures a sowing, the
 * lower the better: of the plates on that day a sowing gets its cheapest, else the lowest number. order[i]: sowing in
 * place i; on_plate[sowing]: its plate, -1: by hand. `on` -1: none. INVALID: more than COT_HIT_ROWS, plates not in
 * 0 .. COT_PLAN_DAYS. */
COT_MUSTCHECK enum cot_err cot_plate_order(const struct cot_dayset *usable, uint32_t sowings, uint32_t plates,
                                           int32_t on, const int64_t *cost, void *space, uint32_t *order,
                                           int32_t *on_plate, struct cot_plate_day *out, struct cot_fault *fault);

/* --- A season --- */
struct cot_plate_share {
    uint32_t could;  /* sowings that it could serve */
    uint32_t serves; /* of the set: sowings given to it (each to the one of them that could serve most) */
    uint32_t alone;  /* that no other plate of the set can serve */
};
/* The smallest set of plates for a season's sowings, each a set of usable plates (empty ones are counted in
 * *without). Proved as cot_hit_all says, else with its bound. share: `plates` of them; serves and alone are 0 off the
 * set. */
COT_MUSTCHECK enum cot_err cot_plate_season(const struct cot_dayset *usable, uint32_t sowings, uint32_t plates,
                                            void *space, struct cot_plate_share *share, uint32_t *without,
                                            struct cot_hit *out, struct cot_fault *fault);
#define cot_plate_season_bytes cot_plate_day_bytes

#endif
