/* The stand of a batch: how many usable plants it has, as a distribution.
 *
 * Plain form: cells counted are as they were seen; a tray counted again replaces its earlier figure; every cell not
 * counted is usable with a rate ~ Beta(a, b): the lot's test and the house's emergence and usable share as prior,
 * updated by the cells counted. So plants = seen + beta-binomial(cells not seen; a, b) - losses + patched, never less
 * than what already went out.
 *
 * Order of work: by its day, then by place. What was dated before the latest count of a tray is already in that count,
 * and what a tray had lost or been patched with leaves with it when it is thrown out; so a loss or patching is taken
 * off (added) only for its share on cells that were neither looked at nor thrown out by number since. One that names
 * trays has its share in those, one that names none, and every potting on, in all that were there. A patching adds no
 * more than the blanks there were. What a count shows because of them teaches nothing of the cells not seen: from it
 * the rate is learned as if the plants were still there (not there yet), as far as the counts are that much off the
 * rate held without them, give or take one standard deviation. A tray thrown out whole takes its cells with it. A tray
 * where only blanks were counted holds survivors (looked at less blanks) of which an unknown part is usable: `bounded`,
 * see `survivors`. A pooled count speaks for cells of trays not counted by number; a later one replaces it; one that
 * looked at every cell replaces the counts by number before it. Thinning takes nothing: a double is one usable cell.
 * Hand-overs name no trays, so a count is read as a count of what is still there or was there alike: plants taken out
 * singly from a tray that is counted again afterwards look like blanks. Count trays before plants leave them.
 */
#ifndef COTYLEDGER_CORE_STAND_H
#define COTYLEDGER_CORE_STAND_H

#include "cotyledger/core/book.h"

/* Where the rate before any count comes from. */
enum cot_stand_basis {
    COT_BASIS_NOTHING, /* nothing is known of the lot: any rate is as likely as another */
    COT_BASIS_TEST,    /* the lot's germination test */
    COT_BASIS_LABEL,   /* the label's percentage, as if from the house's assumed number of seeds */
    COT_BASIS_LAWFUL,  /* the crop's lowest lawful germination, as if from 50 seeds */
    COT_BASIS_POTTED   /* potted on: a house assumption, about 98 of 100 take */
};

struct cot_stand {
    struct cot_id batch;
    struct cot_id variety, format, lot, parent; /* zero when none */
    int32_t sown, ready, past; /* days: sown or potted, ready from, past use after (COT_DAY_NONE unknown) */
    int32_t counted;           /* day of the latest count; COT_DAY_NONE if none */
    int32_t trays;             /* in the batch; 0 for rows of a shared tray */
    int32_t trays_counted;
    int64_t cells, looked;                  /* cells sown; of them looked at */
    int64_t usable, blanks, culls, doubles; /* as seen (doubles: known) */
    bool bounded;                           /* blanks only: `usable` is then an upper bound, not a count */
    bool provisional;                       /* counted before the crop's stand-count day, or not counted */
    bool held;
    double a, b;             /* posterior of the rate of the cells not seen */
    int64_t unseen;          /* cells not seen */
    int64_t fixed;           /* usable seen, losses taken off, patched added: plants = max(fixed + X, out) */
    int64_t lost;            /* usable plants lost or potted on */
    int64_t out, back;       /* handed over; brought back usable (already taken off out) */
    int64_t likely;          /* median of the plants there are, handed over included */
    int64_t count_on;        /* plants that hold with the house's confidence */
    bool over;               /* more went out than the house's confidence would have allowed for: raised to it */
    bool untreated, organic; /* of its lot */
    struct cot_id owner;     /* farm whose seed it is; zero: the house's */
    int64_t survivors;       /* cells that were not blank where only blanks were counted */
    double sa, sb;           /* their usable share ~ Beta(sa, sb) */
    int64_t most; /* cells still there: plants = min(max(0, fixed + X + survivors' share), most), at least out */
    enum cot_stand_basis basis; /* of the rate before any count */
    double shared; /* 0..1: how much the plants hang on what all batches of the lot have in common; as a loading: two
                      batches of one lot have the correlation shared x shared. 0: none, or not known */
};

/* As known on day `on`: work dated later is left out. Batches not booked, taken back or sown later are no stand.
 * Errors: NOT_FOUND, MEMORY. */
COT_MUSTCHECK enum cot_err cot_stand_read(struct cot_book *b, const struct cot_thing *batch, int32_t on,
                                          struct cot_stand *out);

/* Plants in all at level u in (0, 1): the u-quantile of max(fixed + X, out). Non-decreasing in u. Cells not seen and
 * survivors are taken at the same level: what is bad for one is bad for the other. */
int64_t cot_stand_at(const struct cot_stand *s, double u);

#endif
