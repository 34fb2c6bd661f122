/* The stand of a batch: how many usable plants it has, as a distribution.
 *
 * Cells counted are as they were seen; a tray counted again replaces its earlier figure. The rate of a batch's seeds,
 * on the log-odds scale, is that of its lot (its test, the house's emergence and usable share, and what other batches
 * of the lot showed), the crop's shift in this house, and the batch's own (rate.h). Trays differ within a batch by rho.
 * Both are uncertain and are learned from the trays counted, and from the house's other batches of the crop (never from
 * the batch itself twice). So of the cells not seen: the rest of a part-counted tray follows that tray and the batch,
 * trays not looked at the batch. Before the crop's stand-count day blanks may still come up, as far as emergence has
 * not come yet. Plants that are lost between today and the ready day are taken off as an uncertain share. Plants = seen
 * + X - losses + patched, X a mixture over rho, never less than what already went out.
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
#include "cotyledger/core/rate.h"

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
    bool picked;             /* some of the trays counted were picked by eye, not drawn */
    double rate;             /* expected of the cells not seen, 0..1 */
    int64_t unseen;          /* cells not seen */
    int64_t to_come;         /* cells seen blank in an early count, in which a plant may still come up */
    int64_t fixed;           /* usable seen, losses taken off, patched added */
    int64_t lost;            /* usable plants lost or potted on */
    int64_t out, back;       /* handed over; brought back usable (already taken off out) */
    int64_t likely_today;    /* median of the plants there are today, handed over included */
    int64_t likely;          /* the same on the collecting day: what may still be lost until `ready` is taken off */
    int64_t count_on;        /* plants that hold with the house's confidence, on the collecting day */
    int64_t later;           /* plants expected to be lost from today until `ready` */
    bool over;               /* more went out than the house's confidence would have allowed for: raised to it */
    bool untreated, organic; /* of its lot */
    struct cot_id owner;     /* farm whose seed it is; zero: the house's */
    int64_t survivors;       /* cells that were not blank where only blanks were counted */
    double sa, sb;           /* their usable share ~ Beta(sa, sb) */
    int64_t most;            /* cells still there */
    /* plants = min(max(0, base + X), most), at least out, X ~ mix: today, and on the collecting day */
    int64_t now_base, then_base;
    struct cot_mix now, then;
    struct cot_mix left;        /* of the cells not seen and to come alone */
    double later_share;         /* of the plants there today, expected to be lost until `ready`; 0..1 */
    enum cot_stand_basis basis; /* of the rate before any count */
    int32_t learned;            /* counted batches of the crop in this house that it was learned from too */
    int32_t count_day;          /* day from which a stand count is no early one; 0: of a batch not in the book */
    double shared; /* 0..1: how much the plants hang on what all batches of the lot have in common; as a loading: two
                      batches of one lot have the correlation of the products of theirs. 0: none, or not known */
};

/* As known on day `on`: work dated later is left out. Batches not booked, taken back or sown later are no stand.
 * Errors: NOT_FOUND, MEMORY. */
COT_MUSTCHECK enum cot_err cot_stand_read(struct cot_book *b, const struct cot_thing *batch, int32_t on,
                                          struct cot_stand *out);

/* The same for many batches: what they share is read once. `on` as above; the caller frees with cot_stands_free (NULL
 * is fine). The book must not change meanwhile. Errors: MEMORY. */
struct cot_stands;
COT_MUSTCHECK enum cot_err cot_stands_new(struct cot_book *b, int32_t on, struct cot_stands **out);
COT_MUSTCHECK enum cot_err cot_stands_read(const struct cot_stands *s, const struct cot_thing *batch,
                                           struct cot_stand *out);
void cot_stands_free(struct cot_stands *s);

/* What the house knows of the next batch of a lot (sown, not potted on), before it is sown: the seeds' odds that all
 * batches of the lot share are ~ N(common), each batch's own part ~ N(0, spread.between^2) comes on top. Learned from
 * the counted batches of the crop as of `on`; spread.batches 0: assumed. NOT_FOUND: no lot. MEMORY. */
struct cot_next {
    struct cot_odds common;
    struct cot_spread spread;
    enum cot_stand_basis basis;
    double later; /* share of the usable plants lost between stand count and collecting */
};
COT_MUSTCHECK enum cot_err cot_next_read(struct cot_book *b, const struct cot_thing *lot, int32_t on,
                                         struct cot_next *out);

/* Plants in all on the collecting day at level u in (0, 1): the u-quantile. Non-decreasing in u. Cells not seen and
 * survivors are taken together: what is bad for one is bad for the other. */
int64_t cot_stand_at(const struct cot_stand *s, double u);

#endif
