/* What would change, and what can be done: readings over the fill (fill.h). Nothing here is recorded.
 *
 * The figures of a remedy are those of the whole fill read again as if it had been taken, so who would lose by it is
 * seen too. What the fill cannot know is marked as a guess. */
#ifndef COTYLEDGER_CORE_REMEDY_H
#define COTYLEDGER_CORE_REMEDY_H

#include "cotyledger/core/fill.h"

/* --- What if ------------------------------------------------------------------------------------------------------ */
#define COT_NO_LINE UINT32_MAX

/* What-ifs are asked as entries that nobody makes. `f` is of kind line: without `about` a new line of its farm, with it
 * the standing line of that identity, where fields that `f` lacks stay as they are. Trays are turned into plants as
 * orders are. `out` points into `f`, `b` and nothing else. `withdrawn`: the standing line is withdrawn, whatever `f`
 * says. Errors: INVALID with the flaw; NOT_FOUND: names a thing that is not in the book. */
COT_MUSTCHECK enum cot_err cot_if_line_read(struct cot_book *b, const struct cot_fact *f, bool withdrawn,
                                            struct cot_if_line *out, struct cot_fault *fault);
/* Plants that an ordered tray of the format means by the house's rule; 0 when not known. */
int64_t cot_tray_plants(struct cot_book *b, const struct cot_thing *format);

struct cot_moved {          /* a line whose verdict, likely or count on changes, or that was itself changed */
    uint32_t before, after; /* indices into the lines of the two fills; COT_NO_LINE: not there */
};
struct cot_effect {
    struct cot_fill before, after;
    struct cot_moved *moved; /* in the order of the lines */
    uint32_t moved_count;
    uint32_t rescued; /* lines short or in doubt before and covered after */
    uint32_t harmed;  /* other lines with a worse verdict after: in doubt is worse than covered, short than in doubt */
};
/* `farm` not NULL: only lines of that farm are among `moved`, `rescued` and `harmed`. The caller frees with
 * cot_effect_free. Errors: as cot_fill_read_if. */
COT_MUSTCHECK enum cot_err cot_effect_read(struct cot_book *b, int32_t on, const struct cot_what_if *change,
                                           const struct cot_id *farm, struct cot_effect *out, struct cot_fault *fault);
void cot_effect_free(struct cot_effect *e);

/* --- Remedies ----------------------------------------------------------------------------------------------------- */
enum cot_remedy_kind {
    COT_REMEDY_PROMISE, /* the line waits for its promise: nothing queues for it yet */
    COT_REMEDY_RELEASE, /* `batch` would serve it, but is held */
    COT_REMEDY_PATCH,   /* blanks of `batch` filled with its own doubles, as far as the counts know of both */
    COT_REMEDY_RESOW,   /* `trays` of `format` from `lot` */
    COT_REMEDY_FORMAT,  /* plants to spare of `batch`, in another tray format */
    COT_REMEDY_VARIETY, /* plants to spare of `batch`, of another `variety` of the crop */
    COT_REMEDY_DAY,     /* plants to spare of `batch`, on another day: `ready` */
    COT_REMEDY_SHARE,   /* the shortage shared pro rata instead of by the house's rule */
    COT_REMEDY_BUY_IN,  /* plants bought in; from whom is not known here */
    COT_REMEDY_COUNT
};
const char *cot_remedy_word(enum cot_remedy_kind k); /* "promise", "release", "patch", "resow", ... */

/* What work takes: house assumptions, common practice, no source; the house cannot set them yet. */
#define COT_MINUTES_SOWING 30     /* to set up for a sowing and clear away */
#define COT_MINUTES_TRAY 4        /* to fill, sow, cover, water and set down a tray */
#define COT_SECONDS_PATCH 30      /* to move one seedling */
#define COT_MINUTES_LOOK 15       /* to look through a batch before its release */
#define COT_MINUTES_ASK 10        /* to ask a buyer, or to write a promise */
#define COT_MINUTES_BUY 60        /* to find somebody who sells, and to take the plants in */
#define COT_MINUTES_SHARE 20      /* to tell the farms that share */
#define COT_ROOT_DAYS 14          /* days that seedlings moved into blanks need to catch up */
#define COT_OTHER_DAY_MOST 21     /* days away from its window that a buyer is asked about */
#define COT_GAIN_LEAST 10         /* per cent of what count on lacks: what helps less is left out */
#define COT_REMEDY_FILLS_MOST 400 /* times that the fill is read again; what is beyond is not worked out */

struct cot_remedy {
    enum cot_remedy_kind kind;
    uint32_t line;                                          /* index into the fill's lines */
    const struct cot_thing *batch, *lot, *format, *variety; /* what with; NULL where it is not of the kind */
    int32_t by;                                             /* last day on which it can be done */
    int32_t ready; /* day from which the plants are there; COT_DAY_NONE: they are there already */
    int64_t trays; /* to sow */
    int64_t
        plants; /* to promise, patch, expect of the trays sown (likely), ask a buyer about, buy in, gain by sharing */
    int64_t seeds;            /* resow: seeds that the sowing takes, enough with the house's confidence */
    int64_t on_hand;          /* resow: seeds left of the lot; -1: not known */
    int64_t minutes;          /* of work */
    bool buyers_yes;          /* the farm has to agree first */
    bool managers_yes;        /* a manager's word */
    bool promise_first;       /* the line waits: the figures are as if it were promised too */
    bool guess;               /* rests on plants that nobody counted, seed that nobody tested, or a seller's word */
    bool treated;             /* its work is with treated seed */
    bool worked_out;          /* false: too many, see COT_REMEDY_FILLS_MOST; then what follows is not known */
    int64_t likely, count_on; /* of the line afterwards */
    double chance;            /* that the line is full afterwards, rounded to 1e-9 */
    enum cot_fill_verdict verdict;
    uint32_t rescued, harmed; /* lines, as in struct cot_effect */
};

struct cot_remedies {
    struct cot_fill fill; /* as it stands */
    uint32_t *line;       /* the lines short or in doubt that can still be helped, in the fill's order */
    uint32_t line_count;
    uint32_t asked; /* the one line that was asked for, in the fill; UINT32_MAX: none */
    /* By line, then best first: those that rescue more lines than they harm before others; among each what the house
     * can do itself before buying in; then lines rescued less lines harmed an hour of work, the chance afterwards, and
     * the least work. */
    struct cot_remedy *remedy;
    uint32_t remedy_count;
};
/* Lines that nobody wants any more, that were declined, or whose last day has gone by are left out. `farm`, `line` not
 * NULL: only its. The caller frees with cot_remedies_free; things belong to the book. Errors: as cot_fill_read. */
COT_MUSTCHECK enum cot_err cot_remedies_read(struct cot_book *b, int32_t on, const struct cot_id *farm,
                                             const struct cot_id *line, struct cot_remedies *out,
                                             struct cot_fault *fault);
/* The same, and says how far it is: so many of all lines are done. `tell` NULL: does not; it is called many times. */
typedef void cot_remedies_tell(void *ctx, uint32_t done, uint32_t all);
COT_MUSTCHECK enum cot_err cot_remedies_read_telling(struct cot_book *b, int32_t on, const struct cot_id *farm,
                                                     const struct cot_id *line, cot_remedies_tell *tell, void *ctx,
                                                     struct cot_remedies *out, struct cot_fault *fault);
void cot_remedies_free(struct cot_remedies *r);

#endif
