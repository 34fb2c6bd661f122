/* Sowing: seeds in a cell, usable plants of a cell, trays to sow.
 *
 * On plain figures, in the caller's storage; the last part reads them from the book. Nothing is allocated. A cell gets
 * K seeds, each of which gives a plant fit to hand over on the collecting day with rate s (rate.h); a cell is usable
 * with at least m of them, q(s). Plants of a sowing are a mixture of beta-binomials over the cells sown (cot_mix), the
 * same that the stand of a batch starts from. Fewest means fewest: plants only rise with trays. */
#ifndef COTYLEDGER_CORE_SOW_H
#define COTYLEDGER_CORE_SOW_H

#include <stdbool.h>
#include <stdint.h>

#include "cotyledger/core/book.h"
#include "cotyledger/core/err.h"
#include "cotyledger/core/rate.h"

/* --- Seeds in a cell ------------------------------------------------------------------------------------------- */
#define COT_HOLES_MOST 30 /* drops for a cell, as the fields `holes` and `per_cell` allow */
#define COT_DROP_MOST (2 * COT_HOLES_MOST)

/* K = k seeds with probability p[k], k = 0 .. most; sums to 1. */
struct cot_drop {
    int most;
    double p[COT_DROP_MOST + 1];
};

/* In the order of the words of the fields `form` and `shape`. */
enum cot_seed_form {
    COT_SEED_RAW,
    COT_SEED_GRADED,
    COT_SEED_PELLETED,
    COT_SEED_COATED,
    COT_SEED_PRIMED,
    COT_SEED_PLUG
};
enum cot_seed_shape { COT_SHAPE_UNKNOWN = -1, COT_SHAPE_ROUND, COT_SHAPE_FLAT, COT_SHAPE_ANGULAR, COT_SHAPE_FLUFFY };

/* Whether the lot is of plugs: young plants bought in, set into cells one by one. They are not sown by a plate, stand
 * in no chamber, and take as plants that are potted on do. */
bool cot_lot_of_plugs(const struct cot_thing *lot);

/* How a seeder singles seed of this form and shape: drops in a thousand that leave none, and two. Round seed and
 * pelleted or coated seed of any shape drop well, graded seed better than raw, flat, angular and fluffy seed poorly;
 * primed seed as raw. A shape not known is taken as flat. Common practice, no source: a house should count its own. */
struct cot_singling {
    int64_t misses, twos; /* per mille of drops */
};
struct cot_singling cot_singling_usual(enum cot_seed_form form, enum cot_seed_shape shape);

struct cot_drop_known {
    bool by_hand;  /* exactly `seeds` in every cell: house assumption */
    int64_t seeds; /* by hand: seeds in a cell; else drops for a cell (holes of the plate), 1 .. COT_HOLES_MOST */
    struct cot_singling singling; /* misses + twos <= 1000; not read by hand */
    bool put_right;               /* every missed drop gets one seed by hand afterwards */
};
/* K is the sum of independent drops of 0, 1 or 2 ("two or more" is taken as two). INVALID: seeds or singling out of
 * range. */
COT_MUSTCHECK enum cot_err cot_drop_of(const struct cot_drop_known *k, struct cot_drop *out, struct cot_fault *fault);
double cot_drop_mean(const struct cot_drop *d);     /* seeds in a cell */
double cot_drop_variance(const struct cot_drop *d); /* between cells */

/* A cell: what drops into it and how many plants make it usable (1: single plants). */
struct cot_cell {
    struct cot_drop drop;
    int64_t at_least;
};
/* q(s) = P(at least m plants of K seeds, each giving one with rate s), 0 <= s <= 1: sum over k of p[k] P(Bin(k, s) >=
 * m). Rises with s. A cot_usable_of, `cell` a struct cot_cell. */
double cot_cell_usable(const void *cell, double s);

/* --- A lot's germination ------------------------------------------------------------------------------------------ */
/* g ~ Beta(germinated + 1, not germinated + 1): Bayes 1763, Phil. Trans. 53:370-418. */
#define COT_GERM_LAWFUL_SEEDS 50 /* house assumption: seeds that a lawful minimum is worth */
struct cot_germ_known {
    int64_t test_seeds, test_germ; /* test_seeds 0: no test */
    int64_t label;                 /* per mille; -1: none */
    int64_t assumed_seeds;         /* the house's: seeds that a bare label is worth */
    int64_t lawful;                /* per mille; -1: none */
};
struct cot_germ {
    enum cot_germ_basis {
        COT_GERM_NOTHING, /* nothing is known: any rate is as likely as another */
        COT_GERM_TEST,
        COT_GERM_LABEL, /* assumed: as if from assumed_seeds */
        COT_GERM_LAWFUL /* assumed: as if from COT_GERM_LAWFUL_SEEDS */
    } basis;
    double seeds, germinated; /* tested, or taken as tested */
    double a, b;
};
/* INVALID: more germinated than were tested, a share outside 0 .. 1000, test_seeds or assumed_seeds negative. */
COT_MUSTCHECK enum cot_err cot_germ_of(const struct cot_germ_known *k, struct cot_germ *out, struct cot_fault *fault);

/* --- Trays to sow ------------------------------------------------------------------------------------------------- */
#define COT_SOW_TRAYS_MOST 100000
#define COT_SOW_PLANTS_MOST 10000000
#define COT_SOW_BATCHES_MOST 1000
#define COT_LATER_LOSS_ASSUMED 10 /* per mille; house assumption, common practice, no source */

struct cot_sow {
    double germ_a, germ_b; /* lot's germination ~ Beta(a, b), each 0.5 .. 1e9 */
    double emerge, fit;    /* each in (0, 1]: emergence relative to the test, share of emerged plants fit to go */
    double later; /* 0 .. 0.9: share of usable plants lost before collecting, of a batch ~ Beta(1, 1/later - 1) */
    bool learned; /* what batches of the lot share is known better than from its germination alone: */
    struct cot_odds common; /* ... a seed's odds; else from germination, emerge, fit, and the spread's shift */
    struct cot_cell cell;
    struct cot_spread spread; /* the house's, rate.h */
    int64_t tray_cells;       /* 1 .. 40000 */
    int64_t batches; /* sowings, on different days, of the one lot that the trays are spread over evenly: 1 .. */
};
/* INVALID: figures out of range (NaN too), or a cell that can't hold so many plants. */
COT_MUSTCHECK enum cot_err cot_sow_check(const struct cot_sow *s, struct cot_fault *fault);

/* Plants of a sowing: what the batches share of the rate is cut into slices, rho into groups, and each part is matched
 * to one beta-binomial in mean and variance (rate.h). With x = shared + own, n_b cells in batch b, c in a tray, a part
 * has mean = n E q      variance = n E q(1-q) (1 + (c-1) rho) + sum n_b^2 E var(q | shared) + n^2 var E(q | shared)
 * (law of total variance). Mean and variance of the whole are exact; every P(X <= k) within half a percent point,
 * against sums over all that may happen in tests/core/sow/trays_test.c. One beta-binomial a rho, without slices, would
 * be up to 8 off where a cell needs several plants. */
#define COT_SOW_SLICES 12
#define COT_SOW_GROUPS 3 /* of rho, each of three values next to each other */
#define COT_SOW_PARTS (COT_SOW_SLICES * COT_SOW_GROUPS)
#define COT_SOW_WALKED 4000000 /* more cells than this are taken in bundles, as in rate.h */
struct cot_plants {
    int64_t cells;
    struct cot_mix_part part[COT_SOW_PARTS]; /* slice by slice; parts of weight 0 may stand */
};
/* Of `trays` trays, 1 .. COT_SOW_TRAYS_MOST. One batch has all of its rate to itself; several share lot and crop and
 * have each their own part. */
COT_MUSTCHECK enum cot_err cot_sow_plants(const struct cot_sow *s, int64_t trays, struct cot_plants *out,
                                          struct cot_fault *fault);
double cot_plants_ge(const struct cot_plants *p, int64_t wanted); /* P(plants >= wanted), to 1e-9 */
int64_t cot_plants_likely(const struct cot_plants *p);            /* median */
/* Most plants with P(plants >= that) >= confidence per mille. */
int64_t cot_plants_count_on(const struct cot_plants *p, int32_t confidence);
void cot_plants_moments(const struct cot_plants *p, double *mean, double *variance);
/* The same in the nine parts of a stand, four slices to a part: mean and variance of each part are kept, every P(X <=
 * k) within about 1 percent point (3 where a cell needs several plants). */
void cot_plants_mix(const struct cot_plants *p, struct cot_mix *out);

struct cot_sow_answer {
    int64_t trays;
    double chance;            /* P(plants >= wanted), to 1e-9 */
    int64_t likely, count_on; /* median; most plants whose chance is at least the confidence */
};
/* The fewest trays with P(plants >= wanted) >= confidence. P rises with trays, since every tray adds cells and takes
 * none, so halving finds it. `confidence` per mille, 500 .. 999; wanted 1 .. COT_SOW_PLANTS_MOST.
 * INVALID; TOO_LARGE: COT_SOW_TRAYS_MOST trays would not do. */
COT_MUSTCHECK enum cot_err cot_sow_trays(const struct cot_sow *s, int64_t wanted, int32_t confidence,
                                         struct cot_sow_answer *out, struct cot_fault *fault);
/* The trays alone: for one who asks many times. */
COT_MUSTCHECK enum cot_err cot_sow_fewest(const struct cot_sow *s, int64_t wanted, int32_t confidence, int64_t *trays,
                                          struct cot_fault *fault);
/* The other way round: what can be promised of so many trays. wanted 0: none is asked for, chance 1. */
COT_MUSTCHECK enum cot_err cot_sow_promise(const struct cot_sow *s, int64_t trays, int64_t wanted, int32_t confidence,
                                           struct cot_sow_answer *out, struct cot_fault *fault);

/* Seeds for so many trays: on average (rounded up), and enough in `confidence` of all sowings (normal about the mean;
 * never more than all drops could take). */
struct cot_sow_seeds {
    int64_t mean, enough;
};
COT_MUSTCHECK enum cot_err cot_sow_seeds(const struct cot_sow *s, int64_t trays, int32_t confidence,
                                         struct cot_sow_seeds *out, struct cot_fault *fault);
/* Most whole trays for which `seeds` are enough; 0 when not for one. */
COT_MUSTCHECK enum cot_err cot_sow_trays_of_seeds(const struct cot_sow *s, int64_t seeds, int32_t confidence,
                                                  int64_t *trays, struct cot_fault *fault);

/* Why more cells are sown than plants are wanted. Causes are switched on one after another in this order, and each gets
 * the cells by which the need rises: so the parts add up to all cells sown - plants wanted. A part depends on the
 * order, the sum does not. Up to LOST cells are needed on average, from LUCK on for the confidence: of these a part may
 * be below 0 where the confidence is near 500 or the rate of a usable cell is small. */
enum cot_sow_cause {
    COT_CAUSE_EMPTY,   /* cells that get too few seeds */
    COT_CAUSE_GERM,    /* seeds that do not germinate */
    COT_CAUSE_EMERGE,  /* that do not emerge in this house (its shift too: may be below 0) */
    COT_CAUSE_UNFIT,   /* plants not fit to go */
    COT_CAUSE_LOST,    /* lost between stand count and collecting */
    COT_CAUSE_LUCK,    /* were every tray and batch alike, still some would do worse */
    COT_CAUSE_TRAYS,   /* trays are not alike */
    COT_CAUSE_BATCHES, /* batches are not alike, and the lot's germination is not known for sure */
    COT_CAUSE_WHOLE,   /* whole trays */
    COT_CAUSE_COUNT
};
struct cot_sow_parts {
    int64_t wanted, cells;
    int64_t part[COT_CAUSE_COUNT];    /* cells; sum = cells - wanted */
    double share[COT_CAUSE_LOST + 1]; /* of cells without seeds enough; of seeds or plants that fail there */
};
/* Of the trays that cot_sow_trays found. INVALID; TOO_LARGE as there. */
COT_MUSTCHECK enum cot_err cot_sow_parts(const struct cot_sow *s, int64_t wanted, int32_t confidence, int64_t trays,
                                         struct cot_sow_parts *out, struct cot_fault *fault);

/* --- Two stages: plugs potted on into larger cells ---------------------------------------------------------------- */
#define COT_TAKE_A 98.0 /* house assumption: 98 of 100 plants potted on take */
#define COT_TAKE_B 2.0
#define COT_POT_CELLS_MOST 400000 /* of each stage */
struct cot_pot_on {
    double take_a, take_b;  /* share that takes ~ Beta(a, b) */
    int64_t tray_cells;     /* of the larger format: one plug a cell */
    double plug_room, room; /* bench that a tray of each takes, in any unit alike; 1 and 1: count trays */
};
struct cot_pot_answer {
    int64_t plug_trays, trays;
    double chance;
    int64_t plugs_likely, plugs_count_on;
    int64_t likely, count_on; /* plants in the end */
};
/* P(plants >= wanted): as many plugs are potted on as there are usable ones and larger cells; trays of both stages are
 * unequal by the same rho. Loss before collecting falls on the larger stage. Exact over plugs: sum over plugs
 * n of P(n plugs) P(at least `wanted` of min(n, cells) take), the second from its recurrence in n. */
COT_MUSTCHECK enum cot_err cot_pot_promise(const struct cot_sow *plugs, int64_t plug_trays, const struct cot_pot_on *to,
                                           int64_t trays, int64_t wanted, int32_t confidence,
                                           struct cot_pot_answer *out, struct cot_fault *fault);
/* Of all pairs that reach the confidence the one with the least bench in all, then the fewest larger trays. */
COT_MUSTCHECK enum cot_err cot_pot_trays(const struct cot_sow *plugs, const struct cot_pot_on *to, int64_t wanted,
                                         int32_t confidence, struct cot_pot_answer *out, struct cot_fault *fault);

/* The plants, and the trays, alone: for one who asks many times. */
COT_MUSTCHECK enum cot_err cot_pot_count_on(const struct cot_sow *plugs, int64_t plug_trays,
                                            const struct cot_pot_on *to, int64_t trays, int32_t confidence,
                                            int64_t *count_on, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_pot_fewest(const struct cot_sow *plugs, const struct cot_pot_on *to, int64_t wanted,
                                          int32_t confidence, int64_t *plug_trays, int64_t *trays,
                                          struct cot_fault *fault);

/* --- From the book ------------------------------------------------------------------------------------------------ */
struct cot_sow_asked {
    const struct cot_thing *lot, *format;
    const struct cot_thing *plate; /* NULL: by hand */
    int64_t per_cell;              /* 0: as many as the plate has holes; by hand 1 */
    int64_t at_least;              /* 0: 1 */
    int64_t batches;               /* 0: 1 */
    bool put_right;
};
/* What the sowing was read from, and what had to be assumed. */
struct cot_sow_found {
    const struct cot_thing *variety, *crop; /* NULL: not known */
    struct cot_germ germ;
    int64_t per_cell;
    struct cot_singling singling;
    bool singling_assumed;                     /* at least one of the two is the usual figure, not the plate's own */
    bool shape_known;                          /* of the crop's seed */
    bool emerge_known, fit_known, later_known; /* settings of the crop, or learned; else assumed */
    int32_t confidence;                        /* the house's, per mille */
    int64_t seeds_per_g;                       /* of the lot; of its crop where the seed is bare; 0: not known */
    int64_t stock; /* seeds left on day `on`: as written down last, less what was sown since; -1: not known */
};
/* The lot to be sown on day `on` in trays of the format, with the house's spread for its crop. What is said of lot,
 * plate and crop is read as the stand of a batch reads it. INVALID: figures that make no sense, named by thing. */
COT_MUSTCHECK enum cot_err cot_sow_read(struct cot_book *b, const struct cot_sow_asked *asked, int32_t on,
                                        struct cot_sow *out, struct cot_sow_found *found, struct cot_fault *fault);
/* The cell alone, from lot and plate; fills variety, crop, per_cell and singling of *found. A plate's own misses and
 * twos come before the usual ones. INVALID as cot_drop_of. */
COT_MUSTCHECK enum cot_err cot_sow_cell(struct cot_book *b, const struct cot_sow_asked *asked, struct cot_cell *out,
                                        struct cot_sow_found *found, struct cot_fault *fault);

#endif
